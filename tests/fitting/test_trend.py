"""Drift of the light told from scatter."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.fitting.trend import find_trend


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
    assert not any(find_trend(*series(0.0, 0.05, seed)).seen for seed in range(200))


def test_frames_off_the_line_dont_count():
    order, deviations = series(-0.3, 0.01, 2)
    deviations[0][:] = np.nan
    assert find_trend(order, deviations).change_ev == pytest.approx(-0.3, abs=0.1)


def test_too_few_frames_tell_nothing():
    assert find_trend([np.array([0.0, 1.0])], [np.array([0.1, -0.1])]).change_ev == 0.0
