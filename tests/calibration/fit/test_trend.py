"""Drift of the light told from scatter."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.calibration.fit.scatter import Deviations, estimate
from profiler.calibration.fit.steadiness import likely_change_ev
from profiler.calibration.fit.trend import find_trend as trend_of


def find_trend(order, deviations, times=None):
    """The trend with the scatter that the deviations show; every frame has a time of its own."""
    times = times or [np.arange(o.size) + 100 * k for k, o in enumerate(order)]
    scatter = estimate(
        [
            Deviations(
                value_ev=d[np.isfinite(d)],
                noise_u_ev=np.zeros(int(np.isfinite(d).sum())),
                time=t[np.isfinite(d)],
                reading=np.zeros(int(np.isfinite(d).sum()), dtype=int),
                reading_u_ev=0.0,
            )
            for d, t in zip(deviations, times, strict=True)
        ]
    )
    return trend_of(order, deviations, times, scatter)


def series(change_ev: float, scatter_ev: float, seed: int):
    rng = np.random.default_rng(seed)
    order = [np.arange(8) / 23 + k * 8 / 23 for k in range(3)]
    # each label fits its own level, so its mean deviation is zero
    deviations = []
    for when in order:
        drift = change_ev * when + rng.normal(0.0, scatter_ev, 8)
        deviations.append(drift - drift.mean())
    return order, deviations


def test_drift_is_measured():
    trend = find_trend(*series(-0.3, 0.01, 1))
    assert trend.seen
    assert trend.change_ev == pytest.approx(-0.3, abs=4 * trend.u_ev)
    assert trend.u_ev < 0.03


def test_scatter_is_no_drift():
    assert sum(find_trend(*series(0.0, 0.05, seed)).seen for seed in range(400)) <= 4


def test_the_error_of_a_repeated_time_is_no_drift():
    """Each time is shot three times in a row: by frames alone 0.05 EV would look like a trend."""
    seen = 0
    for seed in range(200):
        rng = np.random.default_rng(seed)
        error = np.repeat(rng.normal(0.0, 0.05, 8), 3) + rng.normal(0.0, 0.003, 24)
        seen += find_trend(
            [np.arange(24) / 23], [error - error.mean()], [np.repeat(range(8), 3)]
        ).seen
    assert seen <= 2


def test_a_steady_light_is_believed_and_a_drift_too():
    assert likely_change_ev(0.03, 0.05) < 0.03
    assert likely_change_ev(0.3, 0.05) == pytest.approx(0.29, abs=0.02)
    assert likely_change_ev(-0.3, 0.05) == likely_change_ev(0.3, 0.05)
    assert likely_change_ev(0.0, float("inf")) == pytest.approx(0.066, abs=0.002)


def test_frames_off_the_line_dont_count():
    order, deviations = series(-0.3, 0.01, 2)
    deviations[0][:] = np.nan
    assert find_trend(order, deviations).change_ev == pytest.approx(-0.3, abs=0.1)


def test_too_few_frames_tell_nothing():
    assert find_trend([np.array([0.0, 1.0])], [np.array([0.1, -0.1])]).change_ev == 0.0
