"""Charts of a fleet as plain numbers, for the script that draws them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from profiler.fleet.compare import exact_value
from profiler.fleet.drift import History, Point
from profiler.fleet.tolerances import Tolerances
from profiler.show.fleet.plots import days_of, limits_of, month_ticks, trend_line
from profiler.show.fleet.words import QUANTITY_NAMES, case_words


@dataclass(frozen=True, kw_only=True)
class Bar:
    """One row of a chart: a value with its 95 % interval; odd: stands out."""

    name: str
    value: float
    low: float
    high: float
    odd: bool


def bars(rows: Sequence[Bar], *, title: str, axis: str, spread: float = 0.0) -> dict[str, Any]:
    """Return rows with intervals around zero, largest on top; spread: half width of a band."""
    ordered = sorted(rows, key=lambda bar: -bar.value)
    return {
        "kind": "bars",
        "title": title,
        "axis": axis,
        "band": spread,
        "rows": [vars(bar) for bar in ordered],
    }


def history(found: History, tolerances: Tolerances | None) -> dict[str, Any]:
    """Return one body's calibrations over time; days are counted from the year 1."""
    points = found.points
    days, due = days_of(found)
    name = QUANTITY_NAMES[found.quantity]
    return {
        "kind": "history",
        "title": f"{name}, {case_words(found.case)}: {len(points)} calibrations over time",
        "axis": f"{name}, EV",
        "first": min(days),
        "last": max(*days, due),
        "ticks": month_ticks(min(days), max(*days, due)),
        "points": [
            _point(day, point, found.quantity) for day, point in zip(days, points, strict=True)
        ],
        "trend": [list(end) for end in trend_line(found)],
        "significant": found.trend is not None and found.trend.significant,
        "limits": limits_of(found, tolerances),
        "due": due,
        "due_words": f"check by {found.next_check}",
    }


def _point(day: int, point: Point, quantity: str) -> dict[str, Any]:
    held = exact_value(point.row, quantity)
    return {
        "day": day,
        "value": held.value,
        "low": held.low,
        "high": held.high,
        "control": None if point.low_ev is None else [point.low_ev, point.high_ev],
        "odd": point.outside,
    }
