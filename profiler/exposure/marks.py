"""Tables of the full, half and third series of f-number, time and ISO marks.

A mark is what a ring or a screen says (1/60, f/11); its exact member is the power of two that it
stands for (1/64 s, f/11.3137). Members: f-number 2^(Av/2), time 2^-Tv s, ISO 100 x 2^(k/3).
Marks: common practice, no source; the half-stop ISO marks and all f-numbers past f/32 from memory.
"""

from __future__ import annotations

from typing import Final, Literal

StopStep = Literal["full", "half", "third"]
SERIES: Final[tuple[StopStep, ...]] = ("full", "half", "third")

# One step of a series: the mark first, then other spellings of it, and the exact member.
Step = tuple[tuple[float, ...], float]


def _steps(marks: str, first: int, per_stop: int, unit_value: float, power: float) -> list[Step]:
    """Steps from a row of marks: `0.3=1/3` gives a second spelling, the exponent counts up."""
    steps = []
    for index, word in enumerate(marks.split()):
        values = []
        for spelling in word.split("="):
            over, _, under = spelling.partition("/")
            values.append(float(over) / float(under) if under else float(over))
        exact = unit_value * 2.0 ** (power * (first + index) / per_stop)
        steps.append((tuple(values), exact))
    return steps


_F_THIRD = _steps(
    "0.7 0.8 0.9 1 1.1 1.2 1.4 1.6 1.8 2 2.2 2.5 2.8 3.2 3.5 4 4.5 5 5.6 6.3 7.1 8 9 10 11 13 14 "
    "16 18 20 22 25 29 32 36 40 45 51 57 64 72 80 90",
    first=-3,
    per_stop=3,
    unit_value=1.0,
    power=0.5,
)
_F_HALF = _steps(
    "0.7 0.8 1 1.2 1.4 1.7 2 2.4 2.8 3.3 4 4.8 5.6 6.7 8 9.5 11 13 16 19 22 27 32 38 45 54 64 76 "
    "90",
    first=-2,
    per_stop=2,
    unit_value=1.0,
    power=0.5,
)
_TIME_THIRD = _steps(
    "30 25 20 15 13 10 8 6 5 4 3=3.2 2.5 2 1.6 1.3 1 0.8=1/1.3 0.6=1/1.6 0.5 0.4 0.3=1/3 1/4 1/5 "
    "1/6 1/8 1/10 1/13 1/15 1/20 1/25 1/30 1/40 1/50 1/60 1/80 1/100 1/125 1/160 1/200 1/250 1/320 "
    "1/400 1/500 1/640 1/800 1/1000 1/1250 1/1600 1/2000 1/2500 1/3200 1/4000 1/5000 1/6400 1/8000 "
    "1/10000 1/12800=1/12500 1/16000 1/20000 1/25600=1/25000 1/32000",
    first=-15,
    per_stop=3,
    unit_value=1.0,
    power=-1.0,
)
_TIME_HALF = _steps(
    "30 20 15 10 8 6 4 3 2 1.5 1 0.7 0.5 0.3=1/3 1/4 1/6 1/8 1/10 1/15 1/20 1/30 1/45 1/60 1/90 "
    "1/125 1/180 1/250 1/350 1/500 1/750 1/1000 1/1500 1/2000 1/3000 1/4000 1/6000 1/8000 1/12000 "
    "1/16000 1/24000 1/32000",
    first=-10,
    per_stop=2,
    unit_value=1.0,
    power=-1.0,
)
_ISO_THIRD = _steps(
    "6 8 10 12 16 20 25 32 40 50 64 80 100 125 160 200 250 320 400 500 640 800 1000 1250 1600 2000 "
    "2500 3200 4000 5000 6400 8000 10000 12800 16000 20000 25600 32000 40000 51200 64000 80000 "
    "102400 128000 160000 204800 256000 320000 409600",
    first=-12,
    per_stop=3,
    unit_value=100.0,
    power=1.0,
)
_ISO_HALF = _steps(
    "6 9 12 18 25 36 50 70 100 140 200 280 400 560 800 1100 1600 2200 3200 4500 6400 9000 12800 "
    "18000 25600 36000 51200 72000 102400 144000 204800 288000 409600",
    first=-8,
    per_stop=2,
    unit_value=100.0,
    power=1.0,
)
Scale = dict[StopStep, list[Step]]
F_SCALE: Final[Scale] = {"third": _F_THIRD, "half": _F_HALF, "full": _F_HALF[::2]}
TIME_SCALE: Final[Scale] = {"third": _TIME_THIRD, "half": _TIME_HALF, "full": _TIME_HALF[::2]}
ISO_SCALE: Final[Scale] = {"third": _ISO_THIRD, "half": _ISO_HALF, "full": _ISO_HALF[::2]}


def scale_of(scale: Scale, series: str) -> list[Step]:
    """Steps of one series; ValueError for another name."""
    for name in SERIES:
        if name == series:
            return scale[name]
    raise ValueError(f"series must be one of {', '.join(SERIES)}, not {series!r}")
