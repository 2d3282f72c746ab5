"""Slips that could hide each other."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.calibration.fit.slips import allowed, find_slips


def slips(deviation):
    deviation = np.asarray(deviation)
    return find_slips(
        [deviation], [np.full(deviation.size, 0.002)], [np.ones(deviation.size, bool)]
    )[0]


@pytest.mark.parametrize("count", [6, 7, 8, 9])
@pytest.mark.parametrize("sizes", [(1.0, 1.0), (1.0, -1.0), (2.0, 0.7), (-1.0, -1.3)])
def test_two_slips_are_both_named(count, sizes):
    for seed in range(20):
        value = np.random.default_rng(seed).normal(0.0, 0.04, count)
        value[1] += sizes[0]
        value[count - 2] += sizes[1]
        assert slips(value) == (1, count - 2)


def test_scatter_is_no_slip():
    found = [slips(np.random.default_rng(s).normal(0.0, 0.05, 7)) for s in range(500)]
    assert sum(map(bool, found)) <= 2


def test_a_third_of_a_stop_is_found_among_twenty():
    value = np.random.default_rng(3).normal(0.0, 0.04, 20)
    value[5] += 1.0 / 3.0 + 0.05
    assert slips(value) == (5,)


def test_never_half_of_the_frames():
    assert [allowed(n) for n in (3, 4, 5, 6, 8, 12, 40)] == [0, 1, 2, 2, 2, 3, 10]


@pytest.mark.parametrize("wide_ev", [0.2, 0.3, 0.4])
def test_half_of_the_frames_are_no_slips(wide_ev):
    """A shutter that scatters by 0.05 EV at some times and by more at as many others."""
    assert slips([0.05, -0.05] * 5 + [wide_ev, -wide_ev] * 5) == ()
