"""Drift: the trend of every body, those that ask for something first."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from profiler.fleet.drift import CommonDrift, History, common_drift, histories
from profiler.show.fleet.drift import by_need, drift_answer, steepness
from profiler.show.fleet.words import case_words, short_name
from profiler.web import fields
from profiler.web.fields import Field
from profiler.web.fleet import charts
from profiler.web.fleet.query import Query, common_field, quantity_field
from profiler.web.fleet.reply import Reply, answered

DRAWN: Final = 25
"""Trends that are drawn, above the list."""
ORDERS: Final[dict[str, tuple[str, Callable[[History], Any]]]] = {
    "": ("what needs a look", by_need),
    "due": ("next check", lambda h: h.next_check),
    "slope": ("size of the trend", lambda h: -steepness(h)),
    "body": ("body", lambda h: (short_name(h.latest.row), h.case)),
}
"""Order -> its name, sort key."""


def form(asked: Query) -> list[Field]:
    """Return the filter and the order."""
    return [
        quantity_field(),
        Field(
            name="find",
            label="Find",
            hint="tag, serial, ISO 400 ...",
        ),
        Field(
            name="first",
            label="Listed first",
            choices=tuple((name, words) for name, (words, _) in ORDERS.items()),
        ),
        common_field(),
    ]


def answer(asked: Query) -> Reply:
    """Return all histories as filtered, with the steepest trends drawn."""
    words = fields.text(asked.params, "find").casefold().split()
    order = fields.one_of(asked.params, "first", list(ORDERS), "")
    every, alike = all_histories(asked)
    found = [h for h in every if all(word in _searched(h) for word in words)]
    found.sort(key=ORDERS[order][1])
    steepest = sorted((h for h in found if h.trend is not None), key=lambda h: -steepness(h))
    drawn = steepest[:DRAWN]
    chart = None
    if drawn:
        chart = charts.bars(
            [_bar(h) for h in drawn],
            title="Trend of each body with its 95 % interval",
            axis="trend, EV a year",
        )
    legend = "Bars: 95 %. Squares: a significant trend, allowing for the number of histories."
    if len(steepest) > len(drawn):
        legend += f" The {len(drawn)} steepest of {len(steepest)} trends are drawn."
    return answered(
        drift_answer(found, alike, asked.cases(), asked.today),
        asked.body_address,
        chart=chart,
        legend=legend,
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


def _searched(history: History) -> str:
    parts = (history.asset_tag, *history.body, *history.meter, history.case[0])
    return " ".join((*parts, case_words(history.case))).casefold()
