"""Bodies over time, answered."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from profiler.fleet.drift import CommonDrift, History
from profiler.show.answer import Answer, Note
from profiler.show.calibration.identity import full_name
from profiler.show.fleet.words import (
    MOST_LISTED,
    NONE,
    Cases,
    FleetTable,
    around,
    body_words,
    chance_words,
    interval,
    limits_words,
    meter_words,
    two_places,
    value_words,
)
from profiler.show.words import count

MOST_BENCHES = 5
"""Meters whose repeatability an answer tells."""
MOST_HISTORIES = 100
"""Histories that an answer lists."""
HEAD = (
    *("Body", "Case", "Meter", "Calibrations", "Latest, EV", "Trend, EV a year", "By chance"),
    *("Says", "Next check by"),
)


def drift_answer(
    found: Sequence[History], alike: Sequence[CommonDrift], cases: Cases, today: date
) -> Answer:
    """Return the histories in their order, after what all bodies of a meter share."""
    shown = found[:MOST_HISTORIES]
    closing = []
    if len(shown) < len(found):
        closing.append(
            f"The first {len(shown)} of {len(found)} histories are listed; find others by name."
        )
    if found and all(history.trend is None for history in found):
        closing.append("A trend needs calibrations of two days at least.")
    return Answer(
        headline=drift_headline(found) + ".",
        lead=tuple(bench_words(found)),
        tables=(
            FleetTable(
                caption="Histories",
                head=HEAD,
                rows=tuple(history_cells(each, cases, today) for each in shown),
                numbers=(3, 4, 5, 6, 8),
                about=tuple(each.latest.row for each in shown),
                odd=frozenset(k for k, each in enumerate(shown) if asks_for_something(each)),
            ),
        )
        if shown
        else (),
        notes=(
            *(Note(text=f"{common_words(each)}.", warns=True) for each in alike),
            *(note for each in shown[:MOST_LISTED] for note in history_notes(each, cases)),
        ),
        closing=tuple(closing),
    )


def bench_words(found: Sequence[History]) -> list[str]:
    """Return how well each bench repeats, or why nobody knows yet."""
    if not found:
        return []
    said = []
    for history in found:
        bench = history.bench
        if bench is None:
            words = (
                "Too few calibrations to tell how well the bench repeats: limits and trends rest "
                "on the uncertainty budgets."
            )
        else:
            make, model, serial = history.meter
            meter = f"{full_name(make, model) or 'a meter not named'} {serial}".strip()
            words = (
                f"One calibration by {meter} repeats to {bench.repeatability_ev:.3f} EV (standard "
                f"deviation, from the history of {count(bench.bodies, 'body', 'bodies')}; "
                f"{bench.dof:.0f} degrees of freedom), {bench.budget_ev:.3f} EV by the budgets: "
                "limits and trends rest on the first."
            )
        if words not in said:
            said.append(words)
    counted = "Of the trends that count, 5 % at most are chance, on average over many fleets."
    return [*said[:MOST_BENCHES], counted]


def history_cells(history: History, cases: Cases, today: date) -> tuple[str, ...]:
    """Return one history in the order of HEAD."""
    row = history.latest.row
    due = history.next_check + (", now" if history.next_check < today.isoformat() else "")
    return (
        body_words(history.body, history.asset_tag),
        cases.words(history.case, row.aim_stops, history.quantity),
        meter_words(row),
        str(len(history.points)),
        f"{value_words(row.value(history.quantity))} on {row.date}",
        trend_words(history),
        NONE if history.trend is None else chance_words(history.trend.probability),
        state_words(history) or "nothing unusual",
        f"{due}: {history.why}" if history.early else due,
    )


def history_notes(history: History, cases: Cases) -> list[Note]:
    """Return what stands out in a history: results outside of their limits, what changed."""
    last = history.latest
    case = cases.words(history.case, last.row.aim_stops, history.quantity)
    who = f"{body_words(history.body, history.asset_tag)}, {case}"
    notes = [
        Note(
            text=f"{who}: {two_places(point.value_ev)} EV on {point.row.date} lies outside of its "
            f"control limits {limits_words(point.low_ev, point.high_ev)} EV.",
            warns=True,
        )
        for point in history.points
        if point.outside
    ]
    if last.change_significant and last.change_ev is not None and last.change_half_ev is not None:
        change = around(last.change_ev, last.change_half_ev)
        notes.append(Note(text=f"{who}: changed by {change} EV since the last.", warns=True))
    if history.adjusted:
        day = history.points[history.adjusted].row.date
        notes.append(Note(text=f"{who}: the trend counts since the adjustment of {day}."))
    return notes


def by_need(history: History) -> tuple[bool, float]:
    """Return the sort key that puts first what asks for something, steep trends before others."""
    return (not asks_for_something(history), -steepness(history))


def steepness(history: History) -> float:
    """Return the size of the trend in EV a year, 0 without one."""
    return 0.0 if history.trend is None else abs(history.trend.slope_ev_per_year)


def trend_words(history: History) -> str:
    """Return the trend in EV a year with half its 95 % interval, a dash without one."""
    trend = history.trend
    if trend is None:
        return NONE
    return interval(trend.slope_ev_per_year, trend.low_ev_per_year, trend.high_ev_per_year)


def state_words(history: History) -> str:
    """Return what the newest calibration says, empty for nothing unusual."""
    said = []
    if history.trend is not None and history.trend.significant:
        said.append("significant trend")
    if history.outside:
        said.append("outside of its control limits")
    if history.verdict in ("out", "undecided"):
        said.append(f"verdict {history.verdict}")
    if 0 < history.adjusted == len(history.points) - 1:
        said.append("adjusted")
    elif history.changed:
        said.append("changed since the last")
    return ", ".join(said)


def asks_for_something(history: History) -> bool:
    """Return whether a history has a trend, lies outside of its limits or is due early."""
    trend = history.trend is not None and history.trend.significant
    return trend or history.outside or history.early


def drift_headline(found: Sequence[History]) -> str:
    """Return how many histories there are, how many have a trend or lie outside at last."""
    trends = sum(each.trend is not None and each.trend.significant for each in found)
    outside = sum(each.outside for each in found)
    return (
        f"{count(len(found), 'history', 'histories')}: {trends} with a significant trend, "
        f"{outside} outside of control limits at last"
    )


def common_words(common: CommonDrift) -> str:
    """Return what bodies that all move alike ask for."""
    make, model, serial = common.meter
    name = f"{full_name(make, model) or 'the meter'} {serial}".strip()
    return (
        f"{common.bodies} bodies move alike by {common.slope_ev_per_year:+.3f} EV a year "
        f"(u {common.u_ev_per_year:.3f}): look at {name}, or at the light, before the bodies"
    )
