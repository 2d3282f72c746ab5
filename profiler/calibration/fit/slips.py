"""What may have happened when one frame, or half of them, lies off the others."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from profiler import standards
from profiler.exposure.stops import nearest_f_mark, nearest_iso_mark, nearest_time_mark

if TYPE_CHECKING:
    from numpy.typing import NDArray

_NEAR_STEP_EV = 0.13  # a slip of the hand is a whole number of third stops, within this


@dataclass(frozen=True, kw_only=True)
class Typed:
    """What was typed for a frame: the reading where it is the frame's own, else its settings."""

    reading: bool
    f_number: float | None
    time_s: float | None
    iso: float | None


def propose(deviation_ev: float, typed: Typed) -> str:
    """Return guesses at what happened, as a question; empty where nothing fits.

    deviation_ev: how much more light the frame shows than was typed for it.
    """
    thirds = deviation_ev * 3.0
    if abs(thirds - round(thirds)) > 3.0 * _NEAR_STEP_EV or round(thirds) == 0:
        return ""
    step = round(thirds) / 3.0
    # a reading that is too low, or a frame that got more than its settings say
    sign = 1.0 if typed.reading else -1.0
    guesses = []
    if typed.f_number:
        meant = nearest_f_mark(typed.f_number * math.exp2(sign * step / 2.0))
        was = nearest_f_mark(typed.f_number)
        if meant.label != was.label:
            guesses.append(f"{was.label} typed for {meant.label}?")
    if typed.time_s:
        time = nearest_time_mark(typed.time_s * math.exp2(-sign * step))
        was_time = nearest_time_mark(typed.time_s)
        if time.label != was_time.label:
            guesses.append(f"{was_time.label} typed for {time.label}?")
    if typed.iso and abs(step - round(step)) < 0.01:
        iso = nearest_iso_mark(typed.iso * math.exp2(-sign * step))
        who = "meter left at" if typed.reading else "body left at"
        guesses.append(f"{who} ISO {iso.marked:g}?")
    return " ".join(guesses)


def two_groups(deviation_ev: NDArray[np.float64]) -> float:
    """Return the distance in EV between two groups that the frames fall into, 0 for one group.

    At least three frames on either side, further apart than standards.GROUPS_EV and six times
    what either group scatters.
    """
    values = np.sort(deviation_ev[np.isfinite(deviation_ev)])
    best = 0.0
    for k in range(3, values.size - 2):
        gap = float(values[k] - values[k - 1])
        low, high = values[:k], values[k:]
        within = max(float(np.std(low)), float(np.std(high)), 0.01)
        if gap > max(standards.GROUPS_EV, 6.0 * within):
            best = max(best, float(high.mean() - low.mean()))
    return best
