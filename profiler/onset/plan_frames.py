"""Which exposures show the whole response: from the floor to well over clip."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from profiler import standards
from profiler.exposure.light import metered_focal_plane_exposure_lx_s, stops_below_saturation
from profiler.exposure.marks import TIME_SCALE
from profiler.exposure.stops import StopStep
from profiler.onset.guards import safe_times
from profiler.records import Meter
from profiler.results import ProfileData

_NEAR_EV = 0.55
"""A time may miss the wanted placement by so much: half the longest step between placements."""
_LEAST_DOUBT_EV = 0.2
_END_STEP_EV = 1.0 / 3.0
_OVER_FIRST_EV, _OVER_STEP_EV = 1.3, 0.7


@dataclass(frozen=True, kw_only=True)
class Expected:
    """Headroom of a grey under clip that a plan reckons with, within +-doubt_ev."""

    headroom_ev: float
    doubt_ev: float
    basis: str


def expected_headroom(mode: str, meter: Meter) -> Expected:
    """Return the headroom of a body whose saturation speed is its label, 3.26 stops for K = 12.5.

    log2(78/(H S)) with the H that the mode's constant asks for (ISO 12232:2006, ISO 2720:1974).
    """
    h_lx_s = metered_focal_plane_exposure_lx_s(mode, meter, 100.0)
    return Expected(
        headroom_ev=stops_below_saturation(100.0 * h_lx_s),
        doubt_ev=standards.PLAN_HEADROOM_DOUBT_EV,
        basis="a saturation speed equal to the label",
    )


def measured_headroom(data: ProfileData, mode: str, isos: Sequence[int]) -> Expected | None:
    """Return the headroom that a profile found for the labels in a mode, None where it has none.

    The doubt spans the labels' headrooms with their 95 % intervals, and is 0.2 stop at least.
    """
    found = [r.clip_headroom_ev for r in data.results if r.mode == mode and r.iso in isos]
    found = [each for each in found if not each.lower_bound]
    if not found:
        return None
    low, high = min(each.low for each in found), max(each.high for each in found)
    return Expected(
        headroom_ev=0.5 * (low + high),
        doubt_ev=max(0.5 * (high - low), _LEAST_DOUBT_EV),
        basis="the older profile",
    )


def wanted_placements(expected: Expected, *, short: bool = False) -> tuple[float, ...]:
    """Return placements in stops over the metered grey, lowest first.

    From PLAN_LOWEST_EV under clip in steps of a stop, by thirds where clip may lie, then so that
    one frame at least is 1 to 2 stops over wherever it lies. short: about half as many.

    >>> known = Expected(headroom_ev=3.0, doubt_ev=0.2, basis="measured")
    >>> [round(x, 1) for x in wanted_placements(known, short=True)]
    [-4.0, -2.0, 0.0, 2.3, 3.0, 4.1, 4.8]
    """
    clip, doubt = expected.headroom_ev, expected.doubt_ev
    stride, fine = (2.0, 2.0 * _END_STEP_EV) if short else (1.0, _END_STEP_EV)
    end = clip - doubt - 0.5
    placements = []
    step = clip - standards.PLAN_LOWEST_EV
    while step < end - 0.5:
        placements.append(step)
        step += stride
    step = end
    while step <= clip + doubt + 1e-9:
        placements.append(step)
        step += fine
    over = clip - doubt + _OVER_FIRST_EV
    while over < clip + doubt + 1.0:
        placements.append(over)
        over += _OVER_STEP_EV
    placements.append(over)
    return tuple(sorted(placements))


def usable_times(
    *, min_time_s: float, max_time_s: float, marks: StopStep, mains_hz: float
) -> tuple[tuple[float, float], ...]:
    """Return the times to choose from, shortest first: mark in s with exact s."""
    safe = None if mains_hz <= 0.0 else set(safe_times(mains_hz, "exact", marks))
    found = [
        (marked[0], exact)
        for marked, exact in TIME_SCALE[marks]
        if min_time_s * (1.0 - standards.MARK_TOLERANCE) <= marked[0]
        and marked[0] <= max_time_s * (1.0 + standards.MARK_TOLERANCE)
        and (safe is None or marked[0] in safe)
    ]
    return tuple(sorted(found))


def choose_times(
    placements: Sequence[float], metered_s: float, times: Sequence[tuple[float, float]]
) -> tuple[list[tuple[float, float]], list[float]]:
    """Return (marked time, placement that it gives) per placement, and those out of reach.

    Each time is used once; placement = log2(t/t_metered).
    """
    chosen: dict[float, float] = {}
    missed = []
    for wanted in placements:
        near = [
            (abs(math.log2(exact / metered_s) - wanted), marked, math.log2(exact / metered_s))
            for marked, exact in times
        ]
        if not near or min(near)[0] > _NEAR_EV:
            missed.append(wanted)
            continue
        _, marked, placement = min(near)
        chosen[marked] = placement
    return sorted(chosen.items()), missed
