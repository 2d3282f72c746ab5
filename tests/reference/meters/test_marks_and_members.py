"""Marks against exact members, computed from 2^(Av/2) and 2^-Tv.

The series as read at kameraarkasi.org and scantips.com (fstop2).
"""

from __future__ import annotations

import math

import pytest

from profiler.exposure.marks import F_SCALE, ISO_SCALE, TIME_SCALE
from profiler.exposure.stops import StopStep, exact_f_number, exact_iso, exact_time_s
from profiler.exposure.units import degrees_from_iso

# mark, exact, error in EV = 2 log2(mark/exact): negative, the marked number lets in more
F_FULL = """
1.4 1.41421 -0.0291 | 2 2 0 | 2.8 2.82843 -0.0291 | 4 4 0 | 5.6 5.65685 -0.0291 | 8 8 0
11 11.31371 -0.0811 | 16 16 0 | 22 22.62742 -0.0811 | 32 32 0 | 45 45.25483 -0.0163 | 64 64 0
"""
F_HALF = """
1.2 1.18921 0.0261 | 1.7 1.68179 0.0311 | 2.4 2.37841 0.0261 | 3.3 3.36359 -0.0551
4.8 4.75683 0.0261 | 6.7 6.72717 -0.0117 | 9.5 9.51366 -0.0041 | 13 13.45434 -0.0991
19 19.02731 -0.0041 | 27 26.90869 0.0098
"""
F_THIRD = """
1.1 1.1225 -.0583 | 1.2 1.2599 -.1406 | 1.6 1.5874 .0228 | 1.8 1.7818 .0293 | 2.2 2.2449 -.0583
2.5 2.5198 -.0228 | 3.2 3.1748 .0228 | 3.5 3.5636 -.0520 | 4.5 4.4898 .0065 | 5 5.0397 -.0228
6.3 6.3496 -.0226 | 7.1 7.1272 -.0110 | 9 8.9797 .0065 | 10 10.0794 -.0228 | 13 12.6992 .0675
14 14.2544 -.0520 | 18 17.9594 .0065 | 20 20.1587 -.0228 | 25 25.3984 -.0456 | 29 28.5088 .0493
"""
# mark's denominator, exact denominator, error in EV = log2(mark/exact): positive, claims longer
TIME_FULL = """
4 4 0 | 8 8 0 | 15 16 .0931 | 30 32 .0931 | 60 64 .0931 | 125 128 .0342 | 250 256 .0342
500 512 .0342 | 1000 1024 .0342 | 2000 2048 .0342 | 4000 4096 .0342 | 8000 8192 .0342
"""
TIME_THIRD = """
3 3.175 .0817 | 5 5.040 .0114 | 6 6.350 .0817 | 10 10.079 .0114 | 13 12.699 -.0338
20 20.159 .0114 | 25 25.398 .0228 | 40 40.317 .0114 | 50 50.797 .0228 | 80 80.635 .0114
100 101.594 .0228 | 160 161.270 .0114 | 200 203.187 .0228 | 320 322.540 .0114
400 406.375 .0228 | 640 645.080 .0114 | 800 812.749 .0228 | 1250 1290.159 .0456
"""
TIME_HALF = """
10 11.314 .178 | 20 22.627 .178 | 3 2.828 -.085 | 6 5.657 -.085 | 45 45.255 .008 | 90 90.510 .008
180 181.019 .008 | 350 362.039 .049 | 750 724.077 -.051 | 1500 1448.155 -.051
3000 2896.309 -.051 | 6000 5792.619 -.051
"""


def rows(series: StopStep, table: str) -> list[tuple[StopStep, str, str, str]]:
    cells = [cell.split() for cell in table.replace("\n", "|").split("|") if cell.strip()]
    return [(series, *cell) for cell in cells]


def half_a_digit(text: str) -> float:
    return 0.501 * 10.0 ** -len(text.partition(".")[2])


F_ROWS = rows("full", F_FULL) + rows("half", F_HALF) + rows("third", F_THIRD)
TIME_ROWS = rows("full", TIME_FULL) + rows("half", TIME_HALF) + rows("third", TIME_THIRD)


@pytest.mark.parametrize(("series", "mark", "exact", "error_ev"), F_ROWS)
def test_f_numbers(series: StopStep, mark: str, exact: str, error_ev: str) -> None:
    found = exact_f_number(float(mark), series)
    assert found == pytest.approx(float(exact), abs=half_a_digit(exact) if "." in exact else 1e-12)
    # one unit of the last digit: the source cut some figures where it should have rounded
    assert 2 * math.log2(float(mark) / found) == pytest.approx(float(error_ev), abs=1e-4)
    assert any(math.isclose(found, member) for _, member in F_SCALE[series])


@pytest.mark.parametrize(("series", "mark", "exact", "error_ev"), TIME_ROWS)
def test_times(series: StopStep, mark: str, exact: str, error_ev: str) -> None:
    found = 1 / exact_time_s(1 / float(mark), series)
    assert found == pytest.approx(float(exact), abs=half_a_digit(exact) if "." in exact else 1e-9)
    assert math.log2(found / float(mark)) == pytest.approx(
        float(error_ev), abs=max(half_a_digit(error_ev), 5.1e-5)
    )
    assert any(math.isclose(1 / found, member) for _, member in TIME_SCALE[series])


@pytest.mark.parametrize(
    ("mark_s", "exact_s", "error_ev"),
    [(8.0, 8.0, 0.0), (15.0, 16.0, -0.0931), (30.0, 32.0, -0.0931)],
)
def test_long_times(mark_s: float, exact_s: float, error_ev: float) -> None:
    assert exact_time_s(mark_s, "full") == exact_s
    assert math.log2(mark_s / exact_s) == pytest.approx(error_ev, abs=5e-5)


@pytest.mark.parametrize(
    ("error_ev", "mark"),
    [
        (-0.08113676272540558, 11.0),
        (-0.08113676272540558, 22.0),
        (-0.029146345659516997, 5.6),
        (-0.016293807340650793, 45.0),
    ],
)
def test_f_number_errors_with_more_digits(error_ev: float, mark: float) -> None:
    assert 2 * math.log2(mark / exact_f_number(mark)) == pytest.approx(error_ev, abs=1e-6)


@pytest.mark.parametrize(
    ("error_ev", "denominator"),
    [
        (0.09310940439148145, 60),
        (0.09310940439148145, 30),
        (0.09310940439148145, 15),
        (0.03421571533791298, 125),
    ],
)
def test_time_errors_with_more_digits(error_ev: float, denominator: int) -> None:
    found = math.log2((1 / denominator) / exact_time_s(1 / denominator))
    assert found == pytest.approx(error_ev, abs=1e-6)


def test_steps_between_marks() -> None:
    assert 2 * math.log2(16 / 11) == pytest.approx(1.0811, abs=1e-4)
    assert 2 * math.log2(exact_f_number(16) / exact_f_number(11)) == pytest.approx(1.0, abs=1e-12)
    assert math.log2(125 / 60) == pytest.approx(1.0589, abs=1e-4)
    assert math.log2(exact_time_s(1 / 60) / exact_time_s(1 / 125)) == pytest.approx(1.0, abs=1e-12)
    assert 2 * math.log2(8 / 5.6) == pytest.approx(1.0291, abs=1e-4)


def test_ambiguous_marks_are_a_sixth_of_a_stop_apart() -> None:
    for mark in (1.2, 13.0):
        gap = 2 * math.log2(exact_f_number(mark, "third") / exact_f_number(mark, "half"))
        assert abs(gap) == pytest.approx(1 / 6, abs=1e-12)


def test_iso_marks_are_near_their_members() -> None:
    """Within 0.023 EV from 16 up to 12800; the marks 6 and 12 cut 6.25 and 12.5."""
    for marks, member in ISO_SCALE["third"]:
        if 16 <= marks[0] <= 12800:
            assert abs(math.log2(marks[0] / member)) < 0.0235
            assert exact_iso(marks[0]) == pytest.approx(member)


# Degrees: from memory of an encyclopaedia table; limits are nearest values, 10^(+-0.05).
@pytest.mark.parametrize(
    ("iso", "degrees"),
    [
        (50, 18),
        (64, 19),
        (80, 20),
        (100, 21),
        (125, 22),
        (160, 23),
        (200, 24),
        (250, 25),
        (320, 26),
        (400, 27),
        (800, 30),
        (1600, 33),
        (3200, 36),
        (6400, 39),
    ],
)
def test_degrees(iso: float, degrees: int) -> None:
    assert degrees_from_iso(iso) == degrees
    low, high = (10.0 ** ((degrees - 1.0 + half) / 10.0) for half in (-0.5, 0.5))
    assert low < iso < high
    assert degrees_from_iso(low * 1.0001) == degrees_from_iso(high * 0.9999) == degrees
