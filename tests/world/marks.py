"""Marks on dials with the exact values they stand for, written down apart from the program's own.

Full stops of time run in powers of two from one second; apertures in powers of the root of two.
Common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

TIMES_THIRD = [
    "30",
    "25",
    "20",
    "15",
    "13",
    "10",
    "8",
    "6",
    "5",
    "4",
    "3.2",
    "2.5",
    "2",
    "1.6",
    "1.3",
    "1",
    "0.8",
    "0.6",
    "0.5",
    "0.4",
    "0.3",
    "1/4",
    "1/5",
    "1/6",
    "1/8",
    "1/10",
    "1/13",
    "1/15",
    "1/20",
    "1/25",
    "1/30",
    "1/40",
    "1/50",
    "1/60",
    "1/80",
    "1/100",
    "1/125",
    "1/160",
    "1/200",
    "1/250",
    "1/320",
    "1/400",
    "1/500",
    "1/640",
    "1/800",
    "1/1000",
    "1/1250",
    "1/1600",
    "1/2000",
    "1/2500",
    "1/3200",
    "1/4000",
    "1/5000",
    "1/6400",
    "1/8000",
]
APERTURES_THIRD = [
    "1",
    "1.1",
    "1.2",
    "1.4",
    "1.6",
    "1.8",
    "2",
    "2.2",
    "2.5",
    "2.8",
    "3.2",
    "3.5",
    "4",
    "4.5",
    "5",
    "5.6",
    "6.3",
    "7.1",
    "8",
    "9",
    "10",
    "11",
    "13",
    "14",
    "16",
    "18",
    "20",
    "22",
    "25",
    "29",
    "32",
]
APERTURES_HALF = [
    "1",
    "1.2",
    "1.4",
    "1.7",
    "2",
    "2.4",
    "2.8",
    "3.3",
    "4",
    "4.8",
    "5.6",
    "6.7",
    "8",
    "9.5",
    "11",
    "13",
    "16",
    "19",
    "22",
    "27",
    "32",
]


@dataclass(frozen=True)
class TimeMark:
    """A mark of the shutter dial: its text, its number in s, and log2 of its exact time in s."""

    text: str
    marked_s: float
    exact_log2_s: float

    def log2_s(self, rule: str) -> float:
        """Log2 of the time that the shutter aims at, under the rule "exact" or "marked"."""
        return self.exact_log2_s if rule == "exact" else math.log2(self.marked_s)


def _number(text: str) -> float:
    over, _, under = text.partition("/")
    return float(over) / float(under or 1.0)


TIMES = tuple(
    TimeMark(text, _number(text), (15 - place) / 3.0) for place, text in enumerate(TIMES_THIRD)
)
FULL_TIMES = TIMES[::3]


def nearest_time(log2_s: float, *, thirds: bool) -> TimeMark:
    """Return the mark whose exact time is nearest to a wanted one."""
    return min(TIMES if thirds else FULL_TIMES, key=lambda t: abs(t.exact_log2_s - log2_s))


def aperture_text(av: float, per_stop: int) -> str:
    """Return the mark of an aperture value that is a whole number of 1/per_stop stops."""
    marks = APERTURES_HALF if per_stop == 2 else APERTURES_THIRD
    row = 2 if per_stop == 2 else 3
    return marks[round(av * row)]
