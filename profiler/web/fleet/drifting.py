"""Drift: the trend of every body, those that ask for something first."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from profiler.fleet.compare import full_words
from profiler.fleet.drift import CommonDrift, History, common_drift, histories
from profiler.show.fleet.text import (
    asks_for_something,
    case_words,
    chance_words,
    common_words,
    drift_headline,
)
from profiler.web import fields
from profiler.web.fields import Field
from profiler.web.fleet import charts
from profiler.web.fleet.query import Query, common_field, quantity_field
from profiler.web.fleet.reply import Reply, reply
from profiler.web.fleet.words import interval, meter_words, short_name, value_words

PAGE: Final = 100
DRAWN: Final = 25
"""Trends that are drawn, above the list."""
ORDERS: Final[dict[str, tuple[str, Callable[[History], Any]]]] = {
    "": ("what needs a look", lambda h: (not asks_for_something(h), -_size(h))),
    "due": ("next check", lambda h: h.next_check),
    "slope": ("size of the trend", lambda h: -_size(h)),
    "body": ("body", lambda h: (short_name(h.latest.row), h.case)),
}
"""Order -> its name, sort key."""


def form(asked: Query) -> list[Field]:
    """Return the filter and the order."""
    params = asked.params
    return [
        quantity_field(params),
        Field(
            name="find",
            label="Find",
            hint="tag, serial, ISO 400 ...",
            value=params.get("find", ""),
        ),
        Field(
            name="first",
            label="Listed first",
            value=params.get("first", ""),
            choices=tuple((name, words) for name, (words, _) in ORDERS.items()),
        ),
        common_field(params),
    ]


def answer(asked: Query) -> Reply:
    """Return all histories as filtered, with the steepest trends drawn."""
    words = fields.text(asked.params, "find").casefold().split()
    order = fields.one_of(asked.params, "first", list(ORDERS), "")
    every, alike = all_histories(asked)
    found = [h for h in every if all(word in _searched(h) for word in words)]
    found.sort(key=ORDERS[order][1])
    steepest = sorted((h for h in found if h.trend is not None), key=lambda h: -_size(h))
    drawn = steepest[:DRAWN]
    return reply(
        drift_headline(found) + ".",
        "fleet_drift.html",
        alike=[common_words(each) for each in alike],
        chart=charts.bars(
            [_bar(h) for h in drawn],
            title="Trend of each body with its 95 % interval",
            axis="trend, EV a year",
        )
        if drawn
        else None,
        drawn=len(drawn),
        trends=len(steepest),
        rows=[_row(h, asked) for h in found[:PAGE]],
        count=len(found),
        profiles=asked.profiles,
    )


def all_histories(asked: Query) -> tuple[list[History], list[CommonDrift]]:
    """Return every history, and the meters whose bodies all move alike."""

    def work() -> tuple[list[History], list[CommonDrift]]:
        found = histories(
            asked.rows, asked.quantity, tolerances=asked.tolerances, sharing=asked.sharing
        )
        return found, common_drift(found)

    return asked.once("histories", work)


def trend_words(history: History) -> str:
    """Return the trend in EV a year with half its 95 % interval, a dash without one."""
    trend = history.trend
    if trend is None:
        return "–"
    return interval(trend.slope_ev_per_year, trend.low_ev_per_year, trend.high_ev_per_year)


def state_words(history: History) -> str:
    """Return what the newest calibration says."""
    last = history.latest
    said = []
    if history.trend is not None and history.trend.significant:
        said.append("significant trend")
    if last.outside:
        said.append("outside of its control limits")
    if history.verdict in ("out", "undecided"):
        said.append(f"verdict {history.verdict}")
    if 0 < history.adjusted == len(history.points) - 1:
        said.append("adjusted")
    elif last.change_significant:
        said.append("changed since the last")
    return ", ".join(said)


def _size(history: History) -> float:
    return 0.0 if history.trend is None else abs(history.trend.slope_ev_per_year)


def _bar(history: History) -> charts.Bar:
    trend = history.trend
    if trend is None:
        raise ValueError("a history of one date has no trend")
    return charts.Bar(
        name=f"{short_name(history.latest.row)}, ISO {history.latest.row.iso}",
        value=trend.slope_ev_per_year,
        low=trend.low_ev_per_year,
        high=trend.high_ev_per_year,
        odd=trend.significant,
    )


def _row(history: History, asked: Query) -> dict[str, Any]:
    row = history.latest.row
    return {
        "name": short_name(row),
        "address": asked.body_address(row),
        "case": asked.case_words(history.case, row.aim_stops),
        "meter": meter_words(row),
        "count": len(history.points),
        "value": value_words(row.value(history.quantity)),
        "date": row.date,
        "trend": trend_words(history),
        "chance": "" if history.trend is None else chance_words(history.trend.probability),
        "state": state_words(history),
        "asks": asks_for_something(history),
        "due": history.next_check,
        "late": history.next_check < asked.today.isoformat(),
        "why": history.why if history.early else "",
    }


def _searched(history: History) -> str:
    row = history.latest.row
    parts = (row.asset_tag, full_words(row), row.lens_model, meter_words(row))
    return " ".join((*parts, case_words(history.case), row.series)).casefold()
