"""The sources of uncertainty of one result."""

from __future__ import annotations

import math

from profiler import levels, series, standards
from profiler.assemble.case import Case
from profiler.exposure import modes
from profiler.fitting import budget
from profiler.fitting.offset import find_headroom
from profiler.records import Meter
from profiler.results import BudgetRow


def budget_rows(case: Case) -> tuple[BudgetRow, ...]:
    """Return the sources of uncertainty of headroom and offset, which share them all."""
    k = case.headroom.first
    response = case.fit.response
    rows = [
        scatter_row(
            float(case.headroom.scatter_u_ev[k]),
            int(response.kept.sum()),
            response.scatter_ev,
            response.scatter_dof,
        ),
        budget.stated("black", float(case.headroom.black_u_ev[k]), case.fit.black.source),
        budget.stated("clip", float(case.headroom.clip_u_ev[k]), "width of the pile-up of codes"),
        *meter_rows(case.meter),
    ]
    exposures = case.group.exposures
    drift = max(series.drift_ev(e, case.group.mode, case.meter) for e in exposures)
    rows.append(budget.bounded("light drift", 0.5 * drift, "readings before and after"))
    if case.trend.seen:
        rows.append(
            budget.bounded("trend of the light", case.trend.change_ev, "frame errors in order")
        )
    rows += setting_rows(case.group.mode, t_stop=all(e.t_stop is not None for e in exposures))
    change = time_rule_change_ev(case)
    rows.append(
        budget.stated(
            "time rule",
            change * math.sqrt(case.series_fit.doubt),
            f"exact or marked times, wrong one with probability {case.series_fit.doubt:.2g}",
        )
    )
    gradient = levels.gradient_ev(case.group)
    rows.append(budget.bounded("patch gradient", 0.25 * gradient, "light across the patch"))
    return tuple(row for row in rows if row.contribution_ev > 0.0)


def scatter_row(u_ev: float, frames: int, scatter_ev: float, dof: float) -> BudgetRow:
    """Return the row of the frames' own scatter (type A)."""
    return budget.stated(
        "fit scatter", u_ev, f"{frames} frames, scatter {scatter_ev:.3f} EV each", dof=max(dof, 2.0)
    )


def meter_rows(meter: Meter) -> list[BudgetRow]:
    """Return the rows that any reading brings: repeatability and step of the display."""
    return [
        budget.bounded(
            "meter repeatability",
            meter.repeatability_ev,
            f"+-{meter.repeatability_ev:g} EV (common practice, no source, unless stated)",
        ),
        budget.bounded(
            "meter resolution",
            0.5 * meter.resolution_ev,
            f"display step {meter.resolution_ev:g} EV",
        ),
    ]


def setting_rows(mode: str, *, t_stop: bool) -> list[BudgetRow]:
    """Return the rows of aperture (unless a T-stop is stated) and card (incident modes)."""
    rows = []
    if not t_stop:
        rows.append(
            budget.bounded("aperture mark", standards.APERTURE_MARK_EV, "iris against its mark")
        )
    if modes.receptor(mode) != "spot":
        rows.append(
            budget.bounded(
                "card reflectance", standards.CARD_REFLECTANCE_EV, "a card sold as 18 %: 17 to 19 %"
            )
        )
    return rows


def time_rule_change_ev(case: Case) -> float:
    """Return how much the headroom would change under the other time rule, in EV."""
    other = next(label for label in case.series_fit.other if label.iso == case.fit.iso)
    k = case.headroom.first
    return abs(float(find_headroom(other).headroom_ev[k] - case.headroom.headroom_ev[k]))
