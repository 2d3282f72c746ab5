"""The dial around a setting: the chosen mark, its neighbours, and where the exact setting lies."""

from __future__ import annotations

import math
from typing import Final

from profiler.exposure.marks import F_SCALE, TIME_SCALE, StopStep
from profiler.onset.camera import CameraSetting
from profiler.show import words
from profiler.show.marks import Step, Strip

_REACH_EV: Final = 1.4


def dial_strip(
    setting: CameraSetting, left_ev: float, rule: str, marks: StopStep, *, by_time: bool
) -> Strip | None:
    """Return the marks within a stop or so of the chosen one, more exposure to the right.

    by_time: the time was found, else the aperture. left_ev: exposure still to give. None where the
    setting is on no dial: a shutter angle, a time to be counted, a T-stop.
    """
    found = _times(setting, rule, marks) if by_time else _apertures(setting, marks)
    near = [step for step in found if abs(step.at) <= _REACH_EV]
    if not any(step.chosen for step in near):
        return None
    chosen = next(step.text for step in near if step.chosen)
    rest = words.amount(left_ev, "more", "less")
    said = "on the mark" if rest == "nothing" else rest
    return Strip(
        title=f"Dial around {chosen}; the exact setting: {said}",
        low=min(-0.3, left_ev, *(step.at for step in near)),
        high=max(0.3, left_ev, *(step.at for step in near)),
        steps=tuple(near),
        wanted=left_ev,
        rest=said,
    )


def _times(setting: CameraSetting, rule: str, marks: StopStep) -> list[Step]:
    shutter = setting.shutter
    if shutter is None or shutter.angle_deg is not None or shutter.is_counted:
        return []
    start = shutter.seconds(rule, marks)
    steps = []
    for (marked, *_), exact in TIME_SCALE[marks]:
        seconds = exact if rule == "exact" else marked
        text = f"{marked:g} s" if marked > 0.29 else f"1/{round(1.0 / marked)}"
        at = math.log2(seconds / start)
        steps.append(Step(at=at, text=text, chosen=abs(at) < 0.02))
    return steps


def _apertures(setting: CameraSetting, marks: StopStep) -> list[Step]:
    aperture = setting.aperture
    if aperture.word != "f":
        return []
    start = aperture.exact(marks)
    steps = []
    for (marked, *_), exact in F_SCALE[marks]:
        at = 2.0 * math.log2(start / exact)
        steps.append(Step(at=at, text=f"f/{marked:g}", chosen=abs(at) < 0.02))
    return steps
