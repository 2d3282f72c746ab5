"""Marked values mapped to exact ones, wanted values to the nearest mark."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal

from profiler.exposure.marks import (
    F_SCALE,
    ISO_SCALE,
    SERIES,
    TIME_SCALE,
    Scale,
    Step,
    StopStep,
    scale_of,
)
from profiler.exposure.quantities import positive
from profiler.exposure.wording import (
    format_ev,
    format_f_number,
    format_f_tenths,
    format_time,
    spell_offset,
)
from profiler.standards import MARK_TOLERANCE

__all__ = [
    "SAME_MARK",
    "SERIES",
    "Mark",
    "StopStep",
    "exact_f_number",
    "exact_iso",
    "exact_time_s",
    "format_ev",
    "format_f_number",
    "format_f_tenths",
    "format_time",
    "nearest_f_mark",
    "nearest_iso_mark",
    "nearest_time_mark",
    "series_of_f_numbers",
    "series_of_times",
    "series_with_f_number",
    "series_with_time",
    "spell_offset",
]

SAME_MARK: Final = 0.01
"""Part by which f-numbers of one position of the ring may differ; a third of a stop is 0.12."""

Kind = Literal["f", "time", "iso"]
_EQUALLY_NEAR: Final = 9  # decimals
_SCALES: Final[dict[Kind, Scale]] = {"f": F_SCALE, "time": TIME_SCALE, "iso": ISO_SCALE}


@dataclass(frozen=True, kw_only=True)
class Mark:
    """A mark near a wanted value, and what remains.

    leftover_ev is signed and always about exposure: log2(wanted exposure / exposure that the
    exact member gives). Positive: still to give; negative: to take away. For an ISO mark it holds
    for a meter that is set to it (a higher ISO on the meter gives less exposure).
    """

    label: str
    marked: float
    exact: float
    leftover_ev: float


@lru_cache(maxsize=4096)  # a series asks for its few marks again and again
def _matches(value: float, kind: Kind) -> Mapping[StopStep, float]:
    """Exact member by series of the mark that the value is; empty where it isn't a mark.

    A value nearer to an exact member than to any mark is that member already: it stands for
    itself in every series that has the member.
    """
    gap: dict[tuple[float, bool], dict[StopStep, float]] = {}
    for series, steps in _SCALES[kind].items():
        for marks, exact in steps:
            for mark in marks:
                key = (round(abs(math.log(value / mark)), 9), False)
                gap.setdefault(key, {})[series] = exact
            key = (round(abs(math.log(value / exact)), 9), True)
            gap.setdefault(key, {})[series] = value
    nearest = min(gap)  # at equal distance the mark (False) comes before the member (True)
    return gap[nearest] if nearest[0] <= math.log1p(MARK_TOLERANCE) else {}


def _exact(value: float, kind: Kind, series: StopStep) -> float:
    scale_of(_SCALES[kind], series)  # refuses an unknown name
    found = _matches(value, kind)
    for name in (series, "third", "half"):
        if name in found:
            return found[name]
    return value


def exact_f_number(mark: float, series: StopStep = "third") -> float:
    """Exact f-number 2^(Av/2) of a marked one; a value that isn't a mark comes back unchanged.

    Within 1.5 % of a mark is the mark, unless an exact member is nearer: 2.8 or 2.797959 give
    2.82843, while 2.82843 or 2.921836 stay. A mark of another series than the one asked for (f/1.7
    is half-stop only) follows its own; one that two series share (f/1.2, f/13) follows `series`.

    >>> round(exact_f_number(11), 4), round(exact_f_number(13, "half"), 4), exact_f_number(7.3)
    (11.3137, 13.4543, 7.3)
    """
    return _exact(positive(float(mark), "f-number"), "f", series)


def exact_time_s(mark_s: float, series: StopStep = "third") -> float:
    """Exact time 2^-Tv in s of a marked one; a value that isn't a mark comes back unchanged.

    Same rule as for f-numbers. Exif's 2^-5.906 = 1/59.97 s is the mark 1/60, so 1/64 s; 1/64 s
    itself stays. The marks 1/3, 1/6, 1/10, 1/20 and 3, 6, 10, 20 s follow `series`. No marks are
    kept past 30 s: a longer time is a timer's, so it is what it says.

    >>> 1 / exact_time_s(1 / 60), 1 / exact_time_s(1 / 64), round(1 / exact_time_s(1 / 20), 3)
    (64.0, 64.0, 20.159)
    """
    return _exact(positive(float(mark_s), "time", "s"), "time", series)


def exact_iso(mark: float) -> float:
    """Exact ISO 100 x 2^(k/3) of a marked one (2^(k/2) for a half-stop mark such as 140).

    >>> round(exact_iso(125), 3), round(exact_iso(1100), 1)
    (125.992, 1131.4)
    """
    return _exact(positive(float(mark), "ISO"), "iso", "third")


def _series_of(values: Iterable[float], kind: Kind) -> StopStep:
    found = [match for value in values if (match := _matches(value, kind))]
    third = sum(set(match) == {"third"} for match in found)
    half = sum(set(match) == {"half"} for match in found)
    if half > third:
        return "half"
    if found and all("full" in match for match in found):
        return "full"
    return "third"


def series_of_times(marks_s: Iterable[float]) -> StopStep:
    """Series that a set of marked times comes from: by majority, third where undecided.

    >>> series_of_times([1 / 60, 1 / 90, 1 / 125, 1 / 20])
    'half'
    """
    return _series_of((positive(float(mark), "time", "s") for mark in marks_s), "time")


def series_of_f_numbers(marks: Iterable[float]) -> StopStep:
    """Series that a set of marked f-numbers comes from: by majority, third where undecided.

    >>> series_of_f_numbers([8, 11, 16]), series_of_f_numbers([8, 13])
    ('full', 'third')
    """
    return _series_of((positive(float(mark), "f-number") for mark in marks), "f")


def series_with_f_number(mark: float) -> frozenset[StopStep]:
    """Series that have a marked f-number; empty where it isn't a mark.

    >>> sorted(series_with_f_number(8)), sorted(series_with_f_number(6.3))
    (['full', 'half', 'third'], ['third'])
    """
    return frozenset(_matches(positive(float(mark), "f-number"), "f"))


def series_with_time(mark_s: float) -> frozenset[StopStep]:
    """Series that have a marked time; empty where it isn't a mark.

    >>> sorted(series_with_time(1 / 90)), sorted(series_with_time(1 / 110))
    (['half'], [])
    """
    return frozenset(_matches(positive(float(mark_s), "time", "s"), "time"))


def _f_mark(step: Step, wanted: float) -> Mark:
    marked, exact = step[0][0], step[1]
    leftover_ev = 2.0 * math.log2(exact / wanted)
    return Mark(label=f"f/{marked:g}", marked=marked, exact=exact, leftover_ev=leftover_ev)


def _time_mark(step: Step, wanted_s: float) -> Mark:
    marked, exact = step[0][0], step[1]
    label = f"{marked:g} s" if marked > 0.29 else f"1/{round(1.0 / marked)} s"
    return Mark(label=label, marked=marked, exact=exact, leftover_ev=math.log2(wanted_s / exact))


def _iso_mark(step: Step, wanted: float) -> Mark:
    marked, exact = step[0][0], step[1]
    label = f"ISO {marked:.0f}"
    return Mark(label=label, marked=marked, exact=exact, leftover_ev=math.log2(exact / wanted))


def _nearest(value: float, steps: list[Step]) -> Step:
    # rounded, so that the first of two that are equally near is taken on every machine
    return min(steps, key=lambda step: round(abs(math.log2(step[1] / value)), _EQUALLY_NEAR))


def nearest_f_mark(f_number: float, series: StopStep = "third") -> Mark:
    """Mark nearest in EV to a wanted f-number; leftover_ev = 2 log2(exact/wanted).

    >>> mark = nearest_f_mark(6.0)
    >>> mark.label, round(mark.leftover_ev, 3)
    ('f/6.3', 0.163)
    """
    wanted = positive(float(f_number), "f-number")
    return _f_mark(_nearest(wanted, scale_of(F_SCALE, series)), wanted)


def nearest_time_mark(time_s: float, series: StopStep = "third") -> Mark:
    """Mark nearest in EV to a wanted time in s; leftover_ev = log2(wanted/exact).

    >>> mark = nearest_time_mark(1 / 60)
    >>> mark.label, 1 / mark.exact, round(mark.leftover_ev, 4)
    ('1/60 s', 64.0, 0.0931)
    """
    wanted_s = positive(float(time_s), "time", "s")
    return _time_mark(_nearest(wanted_s, scale_of(TIME_SCALE, series)), wanted_s)


def nearest_iso_mark(iso: float, series: StopStep = "third") -> Mark:
    """Mark nearest in EV to a wanted ISO on the meter; leftover_ev = log2(exact/wanted).

    >>> mark = nearest_iso_mark(276)
    >>> mark.label, round(mark.leftover_ev, 3)
    ('ISO 250', -0.131)
    """
    wanted = positive(float(iso), "ISO")
    return _iso_mark(_nearest(wanted, scale_of(ISO_SCALE, series)), wanted)
