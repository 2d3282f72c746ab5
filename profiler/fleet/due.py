"""The day on which a body should be checked again."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from profiler.fleet.rows import Row
from profiler.fleet.rules import conformance
from profiler.fleet.tolerances import Tolerance, Tolerances
from profiler.fleet.trendline import YEAR_DAYS, Trend, day_of

INTERVAL_DAYS: Final = 365
"""Days from check to check where the tolerances state no other (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Due:
    """The day of the next check with the reason; early: sooner than the usual interval."""

    day: date
    why: str
    early: bool


def next_check(
    last: Row,
    value_ev: float,
    u_ev: float,
    trend: Trend | None,
    quantity: str,
    tolerances: Tolerances | None,
) -> Due:
    """Return the day of the next check after the calibration `last`, with the reason.

    After the usual interval; sooner where a significant trend, with its uncertainty, brings the
    probability of conformance below that of the rule; at once where it is below already.
    """
    usual = (tolerances.interval_days if tolerances else None) or INTERVAL_DAYS
    due, why = usual, f"the usual interval of {usual} days"
    for tolerance in tolerances.tolerances if tolerances is not None else ():
        if tolerances is None or tolerance.quantity != quantity or not tolerance.holds_for(last):
            continue
        wanted = tolerances.rule.probability
        reached = _days_until(value_ev, u_ev, trend, tolerance, wanted, usual)
        if reached < due:
            due = reached
            why = f"the trend brings it below {100 * wanted:g} % conformance then"
            if reached == 0:
                why = "its conformance is in doubt already"
    return Due(day=days_after(day_of(last), due), why=why, early=due < usual)


def days_after(day: date, days: int) -> date:
    """Return the day so many days later; the last one that a date can hold at most."""
    return day + min(timedelta(days=days), date.max - day)


def _days_until(
    value_ev: float,
    u_ev: float,
    trend: Trend | None,
    tolerance: Tolerance,
    wanted: float,
    days: int,
) -> int:
    """Days from the last calibration for which conformance stays as probable as wanted."""
    if trend is None or not trend.significant:
        return days if conformance(value_ev, u_ev, tolerance.limits) >= wanted else 0
    for ahead in range(days):
        years = ahead / YEAR_DAYS
        variance = trend.level_u_ev**2 + (trend.u_ev_per_year * years) ** 2
        variance += 2.0 * years * trend.correlation * trend.level_u_ev * trend.u_ev_per_year
        value = trend.level_ev + trend.slope_ev_per_year * years
        if conformance(value, math.sqrt(variance), tolerance.limits) < wanted:
            return ahead
    return days
