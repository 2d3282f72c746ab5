"""Times that a body can be set to: marks of its dial, and beyond them whole seconds to count."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache
from itertools import pairwise

from profiler import standards
from profiler.exposure.marks import TIME_SCALE
from profiler.exposure.stops import StopStep
from profiler.onset.camera import Shutter


def nearest_time(seconds: float, rule: str, marks: StopStep) -> Shutter:
    """Return the time nearest in stops, with marks counted by the profile's time rule.

    >>> nearest_time(1 / 70, "exact", "third").label, nearest_time(240.2, "exact", "third").label
    ('1/60 s', 'bulb 240 s')
    """
    times = _times(rule, marks)
    longest = times[-1][0]
    if seconds > longest * 2.0 ** (1.0 / 6.0):
        return _counted(round(seconds), longest)
    # rounded, so that of two that are equally near the same one is taken on every machine
    return min(times, key=lambda each: round(abs(math.log2(each[0] / seconds)), 9))[1]


def no_longer(seconds: float, rule: str, marks: StopStep) -> Shutter:
    """Return the longest time that is no longer than asked, the shortest mark where none is.

    >>> no_longer(1 / 70, "exact", "third").label, no_longer(100.9, "exact", "third").label
    ('1/80 s', 'bulb 100 s')
    """
    times = _times(rule, marks)
    if math.floor(seconds) > times[-1][0]:
        return _counted(math.floor(seconds), times[-1][0])
    return next(
        (each for real_s, each in reversed(times) if _at_most(real_s, seconds)), times[0][1]
    )


def no_shorter(seconds: float, rule: str, marks: StopStep) -> Shutter:
    """Return the shortest time that is no shorter than asked.

    >>> no_shorter(1 / 70, "exact", "third").label, no_shorter(33.2, "exact", "third").label
    ('1/60 s', 'bulb 34 s')
    """
    times = _times(rule, marks)
    found = next((each for real_s, each in times if _at_most(seconds, real_s)), None)
    return found or _counted(math.ceil(seconds), times[-1][0])


@lru_cache(maxsize=8)
def _times(rule: str, marks: StopStep) -> tuple[tuple[float, Shutter], ...]:
    """The dial's times in s as they count, shortest first."""
    shutters = (Shutter(marked_s=marked) for (marked, *_), _exact in TIME_SCALE[marks])
    return tuple(sorted(((s.seconds(rule, marks), s) for s in shutters), key=lambda each: each[0]))


def _counted(seconds: int, longest_mark_s: float) -> Shutter:
    least = math.floor(longest_mark_s) + 1
    return Shutter(marked_s=float(min(max(seconds, least), standards.LONGEST_COUNTED_S)))


def _at_most(one: float, other: float) -> bool:
    return one <= other * (1.0 + 1e-9)


def bracket_shutters(
    start_s: float,
    changes_ev: tuple[float, float],
    most_step_ev: float,
    rule: str,
    marks: StopStep,
) -> tuple[Shutter, ...]:
    """Return the fewest times that reach from one change of exposure to another, rounded safely.

    start_s: the time that changes_ev, lowest and highest in stops, count from. The first time is no
    longer than the lowest change asks, the last no shorter than the highest; steps between
    neighbours are as even as the marks allow, none above most_step_ev.
    """
    first = no_longer(start_s * 2.0 ** changes_ev[0], rule, marks)
    last = no_shorter(start_s * 2.0 ** changes_ev[1], rule, marks)

    def placed(shutter: Shutter) -> float:
        return math.log2(shutter.seconds(rule, marks) / start_s)

    low, high = placed(first), placed(last)
    for between in range(_MOST_BETWEEN):
        step = (high - low) / (between + 1)
        inner = [
            nearest_time(start_s * 2.0 ** (low + step * (i + 1)), rule, marks)
            for i in range(between)
        ]
        times = (first, *inner, last)
        if all(b - a <= most_step_ev + 1e-9 for a, b in _neighbours(times, placed)):
            return times
    return ()


def bracket_steps(
    changes_ev: tuple[float, float], most_step_ev: float, marks: StopStep
) -> tuple[float, ...]:
    """Return the fewest changes in whole steps that reach from one to another, rounded outwards.

    >>> bracket_steps((-0.5, 1.0), 1.0, "half")
    (-0.5, 0.5, 1.0)
    """
    step = _STEPS_EV[marks]
    first, last = (
        math.floor(changes_ev[0] / step + 1e-9),
        math.ceil(changes_ev[1] / step - 1e-9),
    )
    for between in range(_MOST_BETWEEN):
        even = (last - first) / (between + 1)
        steps = [first, *[first + round(even * (i + 1)) for i in range(between)], last]
        if all((b - a) * step <= most_step_ev + 1e-9 for a, b in pairwise(steps)):
            return tuple(each * step for each in steps)
    return ()


_STEPS_EV: dict[StopStep, float] = {"full": 1.0, "half": 1.0 / 2.0, "third": 1.0 / 3.0}
_MOST_BETWEEN = 60


def _neighbours(
    times: tuple[Shutter, ...], placed: Callable[[Shutter], float]
) -> list[tuple[float, float]]:
    return [(placed(a), placed(b)) for a, b in pairwise(times)]
