"""The cheapest plan that knows the offset as well as wanted."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

from profiler import standards
from profiler.calibration.fit import budget
from profiler.errors import ExposureError
from profiler.exposure.modes import is_flash, receptor
from profiler.onset import guards
from profiler.onset.plan import (
    ELECTRONIC,
    MECHANICAL,
    Goal,
    Plan,
    PlanAsk,
    Shutters,
    planned,
)
from profiler.records import Meter
from profiler.results import BudgetRow, ProfileData, Source

_READINGS: Final = (1, 2, 3, 4, 6, 8, 12, 16)
_COPIES: Final = (1, 2, 4)
_SLACK_EV: Final = 0.0005  # a goal is meant to the digits that it is given with
_MOST_EV: Final = 1.0
_NEAR: Final = 1.2  # the linear half-interval may be wider by so much than the Monte Carlo one
_IN_THE_WAY: Final = 0.5  # part of the goal from which one row stands in its way


def reach(ask: PlanAsk, data: ProfileData | None = None, meter: Meter | None = None) -> Plan:
    """Return the cheapest plan that reaches a goal, else the best one with what is in its way.

    Tried: readings, frames of each setting, the short list, an electronic shutter under light that
    doesn't pulse, and working at the planned aperture alone; nothing that was asked for is given
    up but the length of the list. Cost: minutes at the camera, and for what binds the photographer
    those that standards.PLAN_... names.
    """
    goal = ask.goal_ev
    if goal is None or not 0.0 < goal <= _MOST_EV:
        raise ExposureError(
            "this can't be the goal for an interval",
            "plan",
            "Wish for 0.05, which is ± 0.05 EV",
            "goal",
        )
    tried = [
        (_cost(plan, here=here), here, way, plan)
        for way in _ways(ask)
        for plan in [planned(way, data, meter, half=linear_half)]
        if plan.half_ev is not None
        for here in (False, True)
    ]
    if not tried:
        return planned(ask, data, meter)
    for _, here, way, near in sorted(tried, key=lambda each: each[0]):
        if half_at(near, here=here) > _NEAR * goal:
            continue
        plan = planned(way, data, meter)
        if half_at(plan, here=here) <= goal + _SLACK_EV:
            return replace(plan, goal=Goal(wanted_ev=goal, reached=True, here=here))
    _, _, way, _ = min(tried, key=lambda each: (half_at(each[3], here=True), each[0]))
    return _short_of(planned(way, data, meter), way, goal, data, meter)


def half_at(plan: Plan, *, here: bool) -> float:
    """Return half the interval that a plan promises, here: at its aperture alone."""
    half = plan.here_half_ev if here else plan.half_ev
    return math.inf if half is None else half


def linear_half(rows: Sequence[BudgetRow]) -> float:
    """Return half the interval by the GUM alone, without the Monte Carlo that a fit holds by it."""
    u, dof = budget.combine(rows)
    return budget.coverage_factor(dof) * u


def _ways(ask: PlanAsk) -> Iterator[PlanAsk]:
    """The question with more of everything than was asked for, and a shorter list."""
    steady = not is_flash(ask.mode)
    pulses = ask.light in guards.PULSING and ask.light != "other"
    either = steady and not pulses and ask.shutter == MECHANICAL
    shutters: tuple[Shutters, ...] = (MECHANICAL, ELECTRONIC) if either else (ask.shutter,)
    readings = {ask.readings, *(n for n in _READINGS if n > ask.readings and steady)}
    copies = {ask.copies, *(n for n in _COPIES if n > ask.copies)}
    for short in (True,) if ask.short else (True, False):
        for each in sorted(copies):
            for shutter in shutters:
                for count in sorted(readings):
                    yield replace(ask, short=short, copies=each, shutter=shutter, readings=count)


def _cost(plan: Plan, *, here: bool) -> float:
    """Minutes that a plan takes, or is worth to avoid."""
    singles = any(f.copies < 2 and not f.dark for label in plan.labels for f in label.frames)
    return (
        plan.minutes
        + standards.PLAN_ELECTRONIC_MIN * plan.electronic
        + standards.PLAN_ONE_APERTURE_MIN * here
        + standards.PLAN_SINGLES_MIN * singles
    )


def _short_of(
    plan: Plan, way: PlanAsk, goal: float, data: ProfileData | None, meter: Meter | None
) -> Plan:
    """The best plan, with the rows that keep it from its goal, and what a spot reading would do."""
    factor = budget.coverage_factor(math.inf)
    # at the planned aperture the iris cancels
    own = [row for row in plan.budget if row.source != Source.APERTURE_MARK]
    rows = sorted(own, key=lambda row: -row.contribution_ev)
    obstacles = [row for row in rows if factor * row.contribution_ev > _IN_THE_WAY * goal]
    spot = None
    if receptor(way.mode) != "spot":
        mode = "flash-spot" if is_flash(way.mode) else "spot"
        spot = half_at(planned(replace(way, mode=mode), data, meter), here=True)
    return replace(
        plan,
        goal=Goal(
            wanted_ev=goal,
            reached=False,
            here=True,
            obstacles=tuple(obstacles or rows[:1]),
            spot_half_ev=spot,
        ),
    )
