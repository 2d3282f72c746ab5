"""Marked shutter times with the exposure a shutter or an iris really gives for its mark."""

from __future__ import annotations

import math
from fractions import Fraction
from functools import cache
from typing import Final

# fmt: off
TIME_MARKS: Final = (
    "1/32000", "1/25600", "1/20000", "1/16000", "1/12800", "1/10000", "1/8000", "1/6400",
    "1/5000", "1/4000", "1/3200", "1/2500", "1/2000", "1/1600", "1/1250", "1/1000", "1/800",
    "1/640", "1/500", "1/400", "1/320", "1/250", "1/200", "1/160", "1/125", "1/100", "1/80",
    "1/60", "1/50", "1/40", "1/30", "1/25", "1/20", "1/15", "1/13", "1/10", "1/8", "1/6", "1/5",
    "1/4", "1/3", "0.4", "0.5", "0.6", "0.8", "1", "1.3", "1.6", "2", "2.5", "3", "4", "5", "6",
    "8", "10", "13", "15", "20", "25", "30",
)
# fmt: on
"""Third-stop times as cameras mark them, common practice."""

# fmt: off
FULL_STOP_MARKS: Final = (
    "0.5", "0.7", "1", "1.4", "2", "2.8", "4", "5.6", "8", "11", "16", "22", "32", "45", "64",
    "90", "128", "180", "256",
)
# fmt: on
"""Full-stop f-numbers as they are marked, from 2 log2(0.5) = -2 upwards."""

# fmt: off
APERTURE_MARKS: Final = (
    "1.4", "1.6", "1.8", "2", "2.2", "2.5", "2.8", "3.2", "3.5", "4", "4.5", "5", "5.6", "6.3",
    "7.1", "8", "9", "10", "11", "13", "14", "16", "18", "20", "22", "25", "29", "32",
)
# fmt: on
"""Third-stop f-numbers as cameras mark them, common practice."""

RULES: Final = ("exact", "as-marked")


def marked_value(mark: str) -> float:
    """Return the number that a mark such as 1/60, 0.4 or 5.6 spells."""
    return float(Fraction(mark))


@cache
def exact_value(mark: str, *, steps_per_doubling: tuple[int, ...] = (3, 2)) -> float:
    """Return the member of the exact series nearest to a mark.

    2^(k/n) with n steps to a doubling: thirds and halves of a stop for times.
    """
    doublings = math.log2(marked_value(mark))
    nearest = min(
        (round(doublings * steps) / steps for steps in steps_per_doubling),
        key=lambda member: abs(member - doublings),
    )
    return float(2.0**nearest)


def true_time_s(mark: str, rule: str) -> float:
    """Return the open time in s of a shutter that follows `rule` when set to `mark`."""
    return exact_value(mark) if rule == "exact" else marked_value(mark)


def true_aperture(mark: str, rule: str) -> float:
    """Return the f-number of an iris that follows `rule` when set to `mark`.

    A stop is a factor sqrt(2) in the f-number: thirds and halves are 6 and 4 steps to a doubling.
    """
    if rule == "exact":
        return exact_value(mark, steps_per_doubling=(6, 4))
    return marked_value(mark)


def nearest_time_mark(time_s: float) -> str:
    """Return the third-stop mark whose exact time lies nearest in stops to a time in s."""
    return min(TIME_MARKS, key=lambda mark: abs(math.log2(exact_value(mark) / time_s)))


def nearest_aperture_mark(aperture: float) -> str:
    """Return the third-stop mark whose exact f-number lies nearest in stops to a given one."""
    return min(
        APERTURE_MARKS, key=lambda mark: abs(math.log2(true_aperture(mark, "exact") / aperture))
    )
