"""Repeats of one shutter time share an error; readings are taken out; labels may differ."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.calibration.fit.scatter import Deviations, Scatter, estimate


def frames(own_ev, time_ev, seed, times=9, repeats=3, reading_u_ev=0.0, reading=None):
    rng = np.random.default_rng(seed)
    time = np.repeat(np.arange(times), repeats)
    value = rng.normal(0.0, time_ev, times)[time] + rng.normal(0.0, own_ev, time.size)
    reading = np.zeros(time.size, dtype=int) if reading is None else reading
    value = value + rng.normal(0.0, max(reading_u_ev, 1e-12), int(reading.max()) + 1)[reading]
    return Deviations(
        value_ev=value - value.mean(),
        noise_u_ev=np.zeros(time.size),
        time=time,
        reading=reading,
        reading_u_ev=reading_u_ev,
    )


@pytest.mark.parametrize(("own", "time"), [(0.05, 0.0), (0.01, 0.05), (0.04, 0.04)])
def test_both_parts_are_found(own, time):
    found = [estimate([frames(own, time, seed)])[0] for seed in range(300)]
    assert np.sqrt(np.mean([f.own_ev**2 for f in found])) == pytest.approx(own, abs=0.004)
    assert np.sqrt(np.mean([f.time_ev**2 for f in found])) == pytest.approx(time, abs=0.018)


def test_the_mean_of_repeated_times_is_as_sure_as_it_is():
    """Mean of 9 times with 3 repeats: as independent frames its pull would spread by 1.7."""
    pulls = []
    for seed in range(600):
        rng = np.random.default_rng(seed)
        time = np.repeat(np.arange(9), 3)
        value = rng.normal(0.0, 0.05, 9)[time] + rng.normal(0.0, 0.005, 27)
        size = estimate(
            [
                Deviations(
                    value_ev=value - value.mean(),
                    noise_u_ev=np.zeros(27),
                    time=time,
                    reading=np.zeros(27, dtype=int),
                    reading_u_ev=0.0,
                )
            ]
        )[0]
        pulls.append(value.mean() / np.sqrt(size.own_ev**2 / 27 + size.time_ev**2 / 9))
        assert 8.0 <= size.dof(np.full(27, 1 / 27), time) <= 12.0
    assert 0.92 < np.std(pulls) < 1.12


def test_errors_of_readings_are_counted_elsewhere():
    reading = np.arange(27)
    found = [
        estimate([frames(0.02, 0.0, s, reading_u_ev=0.06, reading=reading)])[0] for s in range(200)
    ]
    assert np.sqrt(np.mean([f.total_ev**2 for f in found])) == pytest.approx(0.025, abs=0.01)


def test_a_label_that_scatters_more_is_seen_to():
    calm = [frames(0.02, 0.0, 3 * s, repeats=1) for s in range(2)]
    wild = frames(0.12, 0.0, 77, times=12, repeats=1)
    sizes = estimate([*calm, wild])
    assert sizes[2].total_ev > 3.0 * sizes[0].total_ev


@pytest.mark.parametrize(
    ("weight", "dof"),
    [
        # equal weights on two times of two frames rest on the times alone: A = 0
        ((0.25, 0.25, 0.25, 0.25), 3.0),
        # differences within a time know nothing of it: B = 0
        ((1.0, -1.0, 1.0, -1.0), 8.0),
        # sum w² = 2, B = (1² + 1²)/2 = 1, A = 1: (0.01 + 0.04)²/(0.01²/8 + 0.04²/3)
        ((1.0, 0.0, 1.0, 0.0), 0.05**2 / (0.01**2 / 8.0 + 0.04**2 / 3.0)),
    ],
)
def test_degrees_of_freedom_of_a_weighted_sum(weight, dof):
    """Welch-Satterthwaite, JCGM 100:2008, G.4.1."""
    scatter = Scatter(
        own_ev=0.1,
        time_ev=0.12,
        within_ms=0.01,
        within_dof=8.0,
        between_ms=0.04,
        between_dof=3.0,
        repeats=2.0,
    )
    assert scatter.dof(np.array(weight), np.array([0, 0, 1, 1])) == pytest.approx(dof)
