"""The day on which a body should be checked again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from profiler.calibration.fit.budget import coverage_factor
from profiler.fleet.columns import Rows, Values
from profiler.fleet.rules import WORST, Rule, Verdict, decide
from profiler.fleet.tolerances import Tolerance, Tolerances
from profiler.fleet.trendline import YEAR_DAYS, Trend

INTERVAL_DAYS: Final = 365
"""Days from check to check where the tolerances state no other (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Due:
    """The day of the next check with the reason; early: sooner than the usual interval."""

    day: date
    why: str
    early: bool


def next_checks(
    newest: Rows,
    trends: Sequence[Trend | None],
    verdicts: Sequence[Verdict | None],
    quantity: str,
    tolerances: Tolerances | None,
) -> list[Due]:
    """Return the day of the next check after each calibration, with the reason.

    At once where the verdict on it isn't "in"; sooner than the usual interval where the same rule
    wouldn't say "in" any more of what a significant trend, with its uncertainty, makes of it.
    """
    usual = (tolerances.interval_days if tolerances else None) or INTERVAL_DAYS
    days, out = newest.text("date"), []
    for k, (trend, verdict) in enumerate(zip(trends, verdicts, strict=True)):
        due, why = usual, f"the usual interval of {usual} days"
        if verdict in ("out", "undecided"):
            due, why = 0, f"its verdict is {verdict} already"
        elif verdict == "in" and trend is not None and trend.significant and tolerances is not None:
            row = newest[k]
            for tolerance in tolerances.tolerances:
                if tolerance.quantity == quantity and tolerance.holds_for(row):
                    reached = _days_until(trend, tolerance, tolerances.rule, due)
                    if reached < due:
                        due, why = reached, "by its trend the verdict will no longer be in"
        day = date.fromisoformat(days.values[days.codes[k]])
        out.append(Due(day=days_after(day, due), why=why, early=due < usual))
    return out


def days_after(day: date, days: int) -> date:
    """Return the day a number of days later; at most the last day that a date can hold."""
    return day + min(timedelta(days=days), date.max - day)


def _days_until(trend: Trend, tolerance: Tolerance, rule: Rule, days: int) -> int:
    """Days from the last calibration, one at least, for which the trend's line stays in."""
    import numpy as np

    if days < 2:
        return days
    years = np.arange(1, days) / YEAR_DAYS
    variance = trend.level_u_ev**2 + (trend.u_ev_per_year * years) ** 2
    variance += 2.0 * years * trend.correlation * trend.level_u_ev * trend.u_ev_per_year
    level, u = trend.level_ev + trend.slope_ev_per_year * years, np.sqrt(variance)
    half = coverage_factor(max(2.0, trend.dof)) * u
    line = Values(
        value=level,
        u=u,
        low=level - half,
        high=level + half,
        dof=np.full(level.shape, trend.dof),
        lower_bound=np.zeros(level.shape, dtype=bool),
    )
    left = np.flatnonzero(decide(line, tolerance.limits, rule).verdict != WORST.index("in"))
    return int(left[0]) + 1 if left.size else days
