"""The sources of uncertainty of one result."""

from __future__ import annotations

import math

from profiler import levels, series
from profiler.assemble.case import Case
from profiler.assemble.rows import meter_rows, scatter_row, setting_rows
from profiler.fitting import budget
from profiler.fitting.offset import find_headroom
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
        *meter_rows(
            case.meter, series.display_step_ev(case.group.exposures, case.group.mode, case.meter)
        ),
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


def time_rule_change_ev(case: Case) -> float:
    """Return how much the headroom would change under the other time rule, in EV."""
    other = next(label for label in case.series_fit.other if label.iso == case.fit.iso)
    k = case.headroom.first
    return abs(float(find_headroom(other).headroom_ev[k] - case.headroom.headroom_ev[k]))
