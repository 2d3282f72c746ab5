"""Marked against exact settings: ISO-style series 2^(k/3) and 2^(k/2), worked out by hand."""

from __future__ import annotations

import itertools

import pytest

from profiler.simulate.marks import (
    TIME_MARKS,
    marked_value,
    nearest_aperture_mark,
    nearest_time_mark,
    true_aperture,
    true_time_s,
)

EXACT_TIMES = [
    # mark, exact denominator (or seconds), printed to the digits given
    ("1/8000", 1 / 8192, 1e-9),
    ("1/1250", 1 / 1290.159, 1e-9),
    ("1/125", 1 / 128, 1e-12),
    ("1/60", 1 / 64, 1e-12),
    ("1/50", 1 / 50.797, 1e-7),
    ("1/20", 1 / 20.159, 1e-6),
    ("1/15", 1 / 16, 1e-12),
    ("1/13", 1 / 12.699, 1e-5),
    ("1/6", 1 / 6.350, 1e-5),
    ("1/3", 1 / 3.175, 1e-4),
    ("1/45", 1 / 45.25483, 1e-8),
    ("15", 16.0, 1e-12),
    ("30", 32.0, 1e-12),
]
EXACT_APERTURES = [
    ("1.4", 1.41421),
    ("1.8", 1.7818),
    ("2.8", 2.82843),
    ("3.5", 3.5636),
    ("5.6", 5.65685),
    ("11", 11.31371),
    ("13", 12.6992),
    ("22", 22.62742),
    ("6.7", 6.72717),
]


@pytest.mark.parametrize(("mark", "time_s", "tolerance"), EXACT_TIMES)
def test_exact_time(mark: str, time_s: float, tolerance: float) -> None:
    assert true_time_s(mark, "exact") == pytest.approx(time_s, abs=tolerance)
    assert true_time_s(mark, "as-marked") == marked_value(mark)


@pytest.mark.parametrize(("mark", "aperture"), EXACT_APERTURES)
def test_exact_aperture(mark: str, aperture: float) -> None:
    assert true_aperture(mark, "exact") == pytest.approx(aperture, abs=6e-5)
    assert true_aperture(mark, "as-marked") == float(mark)


def test_times_are_a_third_of_a_stop_apart() -> None:
    times = [true_time_s(mark, "exact") for mark in TIME_MARKS]
    for shorter, longer in itertools.pairwise(times):
        assert longer / shorter == pytest.approx(2 ** (1 / 3), rel=1e-12)


def test_nearest_marks() -> None:
    assert nearest_time_mark(1 / 64) == "1/60"
    assert nearest_time_mark(0.0002) == "1/5000"
    assert nearest_time_mark(500.0) == "30"
    assert nearest_aperture_mark(11.31) == "11"
    assert nearest_aperture_mark(1.0) == "1.4"
