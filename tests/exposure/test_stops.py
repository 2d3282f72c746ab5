"""Marks become exact members, exact members stay, anything else is left alone."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from profiler.exposure.marks import F_SCALE, ISO_SCALE, TIME_SCALE
from profiler.exposure.stops import (
    SERIES,
    StopStep,
    exact_f_number,
    exact_iso,
    exact_time_s,
    nearest_f_mark,
    nearest_iso_mark,
    nearest_time_mark,
    series_of_f_numbers,
    series_of_times,
)
from profiler.standards import MARK_TOLERANCE

SCALES = ((F_SCALE, exact_f_number), (TIME_SCALE, exact_time_s))

# What raw files hold for times, in s, and the exact denominator; from memory of such files.
TIME_TAGS = [
    (0.016666667, 64.0),
    (0.0166740697, 64.0),  # 2^-5.9063, APEX for 1/60
    (2.0**-5.9069, 64.0),
    (0.0167, 64.0),
    (10 / 600, 64.0),
    (0.033333333, 32.0),
    (0.066666667, 16.0),
    (0.076923077, 12.69921),
    (10 / 2500, 256.0),
    (0.0125, 80.635),
    (0.00015625, 6501.99),
    (0.333333333, 3.1748),
    (0.3, 3.1748),
    (0.4, 2.51984),
    (0.6, 1.5874),
    (0.625, 1.5874),
    (0.769230769, 1.259921),
    (0.8, 1.259921),
    (1.3, 0.793701),
    (1.6, 0.629961),
    (2.5, 0.396850),
    (3.0, 0.314980),
    (3.2, 0.314980),
    (6.0, 0.157490),
    (13.0, 0.0787451),
    (15.0, 1 / 16),
    (30.0, 1 / 32),
    (0.0222, 45.2548),
    (0.0111, 90.5097),
]


@pytest.mark.parametrize(("tag_s", "denominator"), TIME_TAGS)
def test_times_from_files(tag_s: float, denominator: float) -> None:
    assert 1 / exact_time_s(tag_s) == pytest.approx(denominator, rel=1e-5)


# No marks: exact members, measured times, cine times, timers past the last mark.
@pytest.mark.parametrize(
    "time_s",
    [1 / 64, 0.015625, 1 / 128, 1 / 59, 1 / 52, 1 / 48, 1 / 50.797, 14.0, 16.0, 32.0, 60.0, 2e-5],
)
def test_times_that_are_no_marks_stay(time_s: float) -> None:
    assert exact_time_s(time_s) == time_s


@pytest.mark.parametrize(
    ("tag", "exact"),
    [
        (2.8, 2.828427),
        (2.797959, 2.828427),
        (5.6, 5.656854),
        (4.5, 4.489848),
        (3.5, 3.563595),
        (7.1, 7.127190),
        (11.0, 11.313708),
        (22.0, 22.627417),
        (9.5, 9.513657),
        (19.0, 19.027314),
        (1.7, 1.681793),
        (5.0, 5.039684),
    ],
)
def test_f_numbers_from_files(tag: float, exact: float) -> None:
    assert exact_f_number(tag) == pytest.approx(exact, abs=1e-6)


@pytest.mark.parametrize("f_number", [7.3, 730459 / 250000, 2.9, 0.95, 2.82843, 2.83, 5.66, 6.05])
def test_f_numbers_that_are_no_marks_stay(f_number: float) -> None:
    assert exact_f_number(f_number) == f_number


# Marks that two series share with different members; from the definition of the members.
@pytest.mark.parametrize(
    ("mark", "third", "half"),
    [(1.2, 1.259921, 1.189207), (13.0, 12.699208, 13.454343), (0.8, 0.793701, 0.840896)],
)
def test_ambiguous_f_numbers_follow_the_series(mark: float, third: float, half: float) -> None:
    assert exact_f_number(mark) == pytest.approx(third, abs=1e-6)
    assert exact_f_number(mark, "half") == pytest.approx(half, abs=1e-6)


@pytest.mark.parametrize(
    ("mark_s", "third", "half"),
    [
        (1 / 3, 3.174802, 2.828427),
        (1 / 6, 6.349604, 5.656854),
        (1 / 10, 10.079368, 11.313708),
        (1 / 20, 20.158737, 22.627417),
        (3.0, 1 / 3.174802, 1 / 2.828427),
        (6.0, 1 / 6.349604, 1 / 5.656854),
        (10.0, 1 / 10.079368, 1 / 11.313708),
        (20.0, 1 / 20.158737, 1 / 22.627417),
    ],
)
def test_ambiguous_times_follow_the_series(mark_s: float, third: float, half: float) -> None:
    assert 1 / exact_time_s(mark_s) == pytest.approx(third, rel=1e-6)
    assert 1 / exact_time_s(mark_s, "half") == pytest.approx(half, rel=1e-6)


def test_a_mark_of_another_series_follows_its_own() -> None:
    assert exact_f_number(6.7, "third") == exact_f_number(6.7, "half") == 2.0**2.75
    assert exact_f_number(6.3, "half") == exact_f_number(6.3, "third")
    assert exact_time_s(1 / 45, "third") == pytest.approx(2.0**-5.5)
    assert exact_time_s(1 / 50, "full") == pytest.approx(2.0 ** (-17 / 3))
    assert exact_time_s(1 / 10, "full") == pytest.approx(2.0 ** (-10 / 3))


@pytest.mark.parametrize(("scale", "exact"), SCALES)
@pytest.mark.parametrize("series", SERIES)
def test_every_mark_and_every_member(scale, exact, series: StopStep) -> None:
    for marks, member in scale[series]:
        for mark in marks:
            assert exact(mark, series) == pytest.approx(member, rel=1e-12)
        for asked in SERIES:
            assert exact(member, asked) == pytest.approx(member, rel=1e-12)


@pytest.mark.parametrize("series", ["half", "third"])
def test_every_iso_member_stays(series: StopStep) -> None:
    for marks, member in ISO_SCALE[series]:
        assert exact_iso(member) == pytest.approx(member, rel=1e-12)
        assert abs(math.log2(marks[0] / member)) < 0.08


@pytest.mark.parametrize("scale", [F_SCALE, TIME_SCALE, ISO_SCALE])
def test_series_are_evenly_spaced(scale) -> None:
    power = {id(F_SCALE): 2.0}.get(id(scale), 1.0)
    for series, step_ev in (("full", 1.0), ("half", 0.5), ("third", 1 / 3)):
        members = [member for _, member in scale[series]]
        for one, two in itertools.pairwise(members):
            assert abs(power * math.log2(two / one)) == pytest.approx(step_ev, abs=1e-12)


@given(st.floats(1e-5, 40.0), st.sampled_from(SERIES))
@settings(derandomize=True, deadline=None)
def test_a_time_moves_little_and_settles_at_once(time_s: float, series: StopStep) -> None:
    exact = exact_time_s(time_s, series)
    assert exact_time_s(exact, series) == exact
    # The widest gap from mark to member: half-stop 1/10 and 1/20, then the tolerance.
    assert abs(math.log2(exact / time_s)) <= 0.1781 + math.log2(1.0 + MARK_TOLERANCE)


def test_iso_marks() -> None:
    assert exact_iso(160) == pytest.approx(158.740, abs=1e-3)
    assert exact_iso(1250) == pytest.approx(1269.92, abs=1e-2)
    assert exact_iso(1100) == pytest.approx(1131.37, abs=1e-2)
    assert exact_iso(65535) == 65535.0
    assert exact_iso(102400) == 102400.0


@pytest.mark.parametrize(
    ("marks", "series"),
    [
        ([1 / 60, 1 / 125, 1 / 250], "full"),
        ([1 / 64, 1 / 128], "full"),
        ([1 / 60, 1 / 90, 1 / 125], "half"),
        ([1 / 60, 1 / 80, 1 / 100, 1 / 125], "third"),
        ([1 / 10, 1 / 20], "third"),
        ([1 / 8, 1 / 10, 1 / 15], "third"),
        ([1 / 45, 1 / 50], "third"),
        ([1 / 45, 1 / 90, 1 / 50], "half"),
        ([], "third"),
        ([1 / 52], "third"),
        ([1 / 60, 1 / 52], "full"),
    ],
)
def test_series_of_times(marks: list[float], series: str) -> None:
    assert series_of_times(marks) == series


@pytest.mark.parametrize(
    ("marks", "series"),
    [
        ([4, 5.6, 8, 11], "full"),
        ([8, 9.5, 11, 13], "half"),
        ([8, 9, 10, 11, 13], "third"),
        ([13, 1.2], "third"),
        ([], "third"),
    ],
)
def test_series_of_f_numbers(marks: list[float], series: str) -> None:
    assert series_of_f_numbers(marks) == series


def test_what_is_left_is_exposure_still_to_give() -> None:
    # f/6.3 for f/6 lets in too little, so there is more to give; f/5.6 the other way.
    assert nearest_f_mark(6.0).leftover_ev == pytest.approx(2 * math.log2(6.3496 / 6), abs=1e-4)
    assert nearest_f_mark(5.9).leftover_ev == pytest.approx(2 * math.log2(5.65685 / 5.9), abs=1e-4)
    # 1/125 runs as 1/128: too short for 1/100, so there is more to give.
    shorter = nearest_time_mark(1 / 100, "full")
    assert shorter.leftover_ev == pytest.approx(math.log2(128 / 100), abs=1e-9)
    # A meter set to 320 for 276 asks for too little, so there is more to give.
    low, high = nearest_iso_mark(276.0), nearest_iso_mark(286.0)
    assert (low.label, high.label) == ("ISO 250", "ISO 320")
    assert low.leftover_ev == pytest.approx(math.log2(251.9842 / 276), abs=1e-6)
    assert high.leftover_ev == pytest.approx(math.log2(317.4802 / 286), abs=1e-6)


@pytest.mark.parametrize(
    ("mark", "label", "marked"),
    [
        (nearest_f_mark(5.65), "f/5.6", 5.6),
        (nearest_f_mark(1.0), "f/1", 1.0),
        (nearest_f_mark(13.4, "half"), "f/13", 13.0),
        (nearest_f_mark(500.0), "f/90", 90.0),
        (nearest_time_mark(1 / 64), "1/60 s", 1 / 60),
        (nearest_time_mark(0.79), "0.8 s", 0.8),
        (nearest_time_mark(0.25), "1/4 s", 0.25),
        (nearest_time_mark(0.32), "0.3 s", 0.3),
        (nearest_time_mark(31.0), "30 s", 30.0),
        (nearest_time_mark(1 / 44, "half"), "1/45 s", 1 / 45),
        (nearest_iso_mark(130.0), "ISO 125", 125.0),
        (nearest_iso_mark(102400.0), "ISO 102400", 102400.0),
    ],
)
def test_labels(mark, label: str, marked: float) -> None:
    assert (mark.label, mark.marked) == (label, marked)


@given(st.floats(0.75, 85.0), st.sampled_from(SERIES))
@settings(derandomize=True, deadline=None)
def test_nearest_is_within_half_a_step(f_number: float, series: StopStep) -> None:
    step_ev = {"full": 1.0, "half": 0.5, "third": 1 / 3}[series]
    mark = nearest_f_mark(f_number, series)
    assert abs(mark.leftover_ev) <= step_ev / 2 + 1e-9
