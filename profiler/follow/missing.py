"""Which frames of a label the plan still wants, judged by those that have come."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from profiler.exposure.marks import TIME_SCALE
from profiler.follow.records import ZONES, Missing, Zone
from profiler.onset.plan_frames import Expected, wanted_placements

_NEAR_EV: Final = 0.55
"""A frame stands for a wanted placement this near, as in a plan."""
_GREY_EV: Final = 1.0
_UNDER_CLIP_EV: Final = 1.0
_OVER_CLIP_EV: Final = 0.5


@dataclass(frozen=True, kw_only=True)
class Setting:
    """Frames of one exposure: placement in EV, how many have come, their marked time if known."""

    placement_ev: float
    copies: int
    time_s: float | None


def still_missing(
    settings: Sequence[Setting], expected: Expected, *, copies: int, short: bool
) -> tuple[Missing, ...]:
    """Return what the plan of one label still wants, the brightest zone first.

    Each setting stands for the wanted placement that is nearest to it, and each placement is met
    once. A setting that stands for none is welcome and asks for no second frame.
    """
    wanted = wanted_placements(expected, short=short)
    near = sorted(
        (abs(setting.placement_ev - place), i, k)
        for i, place in enumerate(wanted)
        for k, setting in enumerate(settings)
        if abs(setting.placement_ev - place) <= _NEAR_EV
    )
    taken: dict[int, int] = {}
    for _, i, k in near:
        if i not in taken and k not in taken.values():
            taken[i] = k
    lacking: dict[Zone, list[tuple[int, float | None]]] = {}
    for i, place in enumerate(wanted):
        if i in taken:
            met = settings[taken[i]]
            count, time_s = copies - met.copies, met.time_s
        else:
            count, time_s = copies, _time_for(place, settings)
        if count > 0:
            lacking.setdefault(zone_of(place, expected.headroom_ev), []).append((count, time_s))
    return tuple(_missing(zone, lacking[zone]) for zone in ZONES if zone in lacking)


def _missing(zone: Zone, lacking: Sequence[tuple[int, float | None]]) -> Missing:
    copies: dict[float, int] = {}
    for count, time_s in lacking:
        if time_s is not None:
            copies[time_s] = copies.get(time_s, 0) + count
    return Missing(
        zone=zone,
        frames=sum(count for count, _ in lacking),
        times_s=tuple(copies),
        copies=tuple(copies.values()),
    )


def zone_of(placement_ev: float, headroom_ev: float) -> Zone:
    """Return where a placement lies between shadows and clip.

    >>> zone_of(0.3, 3.0), zone_of(4.2, 3.0)
    ('near the grey', 'above clip')
    """
    if placement_ev > headroom_ev + _OVER_CLIP_EV:
        return "above clip"
    if placement_ev > headroom_ev - _UNDER_CLIP_EV:
        return "just under clip"
    if placement_ev > _GREY_EV:
        return "between the grey and clip"
    return "near the grey" if placement_ev >= -_GREY_EV else "in the shadows"


def _time_for(placement_ev: float, settings: Sequence[Setting]) -> float | None:
    """The marked time in s that would give a placement, from a frame whose time is known."""
    timed = [setting for setting in settings if setting.time_s]
    if not timed:
        return None
    nearest = min(timed, key=lambda setting: abs(setting.placement_ev - placement_ev))
    seconds = (nearest.time_s or 0.0) * 2.0 ** (placement_ev - nearest.placement_ev)
    marks = [marked[0] for marked, _ in TIME_SCALE["third"]]
    return min(marks, key=lambda mark: abs(math.log2(mark / seconds)))
