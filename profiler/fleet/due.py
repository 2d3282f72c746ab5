"""The day on which a body should be checked again."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from profiler.calibration.fit.budget import coverage_factor
from profiler.fleet.rows import Row, Value
from profiler.fleet.rules import Rule, Verdict, decide, worst_verdict
from profiler.fleet.tolerances import Tolerance, Tolerances
from profiler.fleet.trendline import YEAR_DAYS, Trend, day_of

INTERVAL_DAYS: Final = 365
"""Days from check to check where the tolerances state no other (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Due:
    """The day of the next check with the reason; early: sooner than the usual interval.

    verdict: the worst on the calibration under the tolerances that hold for it, None without any.
    """

    day: date
    why: str
    early: bool
    verdict: Verdict | None = None


def next_check(last: Row, trend: Trend | None, quantity: str, tolerances: Tolerances | None) -> Due:
    """Return the day of the next check after the calibration `last`, with the reason.

    At once where the decision rule doesn't say "in" of it; sooner than the usual interval where it
    wouldn't any more of what a significant trend, with its uncertainty, makes of it.
    """
    usual = (tolerances.interval_days if tolerances else None) or INTERVAL_DAYS
    due, why = usual, f"the usual interval of {usual} days"
    value = last.value(quantity)
    verdicts: set[Verdict] = set()
    for tolerance in tolerances.tolerances if tolerances is not None else ():
        if tolerances is None or value is None:
            continue
        if tolerance.quantity != quantity or not tolerance.holds_for(last):
            continue
        verdict = decide(value, tolerance.limits, tolerances.rule).verdict
        verdicts.add(verdict)
        if verdict == "in" and trend is not None and trend.significant:
            reached = _days_until(trend, tolerance, tolerances.rule, due)
            if reached < due:
                due, why = reached, "by its trend the verdict is no longer in then"
    worst = worst_verdict(verdicts)
    if worst in ("out", "undecided"):
        due, why = 0, f"its verdict is {worst} already"
    return Due(day=days_after(day_of(last), due), why=why, early=due < usual, verdict=worst)


def days_after(day: date, days: int) -> date:
    """Return the day so many days later; the last one that a date can hold at most."""
    return day + min(timedelta(days=days), date.max - day)


def _days_until(trend: Trend, tolerance: Tolerance, rule: Rule, days: int) -> int:
    """Days from the last calibration, one at least, for which the trend's line stays in."""
    k = coverage_factor(math.inf)
    for ahead in range(1, days):
        years = ahead / YEAR_DAYS
        variance = trend.level_u_ev**2 + (trend.u_ev_per_year * years) ** 2
        variance += 2.0 * years * trend.correlation * trend.level_u_ev * trend.u_ev_per_year
        level, u = trend.level_ev + trend.slope_ev_per_year * years, math.sqrt(variance)
        value = Value(
            value=level, u=u, low=level - k * u, high=level + k * u, dof=math.inf, lower_bound=False
        )
        if decide(value, tolerance.limits, rule).verdict != "in":
            return ahead
    return days
