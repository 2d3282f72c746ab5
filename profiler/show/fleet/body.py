"""One body over time, answered: its verdict, each history, every result."""

from __future__ import annotations

from collections.abc import Sequence

from profiler.fleet.absent import Left
from profiler.fleet.decide import Adjustment, BodyVerdict, moment
from profiler.fleet.drift import History, Point
from profiler.fleet.rows import Row
from profiler.show.answer import Answer, Cell, Note, facts
from profiler.show.fleet.decide import adjustment_words, judged_words, verdict_words
from profiler.show.fleet.drift import asks_for_something, state_words, trend_words
from profiler.show.fleet.words import (
    NONE,
    QUANTITY_NAMES,
    Cases,
    FleetTable,
    around,
    body_name,
    capital,
    chance_words,
    gear_words,
    limits_words,
    meter_words,
    state_of,
    value_words,
)
from profiler.show.words import count


def body_answer(
    rows: Sequence[Row],
    found: Sequence[History],
    quantity: str,
    cases: Cases,
    *,
    verdicts: Sequence[BodyVerdict] | None = None,
    pairs: Sequence[Adjustment] = (),
    left: Sequence[Left] = (),
    rule: str = "",
) -> Answer:
    """Return all that is known of a body: its rows, their histories, the verdict of today.

    verdicts: None where nothing is to be judged by. left: what the last run left without a result.
    """
    said = [judged_words(one) for verdict in (verdicts or ())[:1] for one in verdict.judged]
    said += [adjustment_words(pair) for pair in pairs]
    bounds = sum(
        value is not None and value.lower_bound for value in (row.value(quantity) for row in rows)
    )
    if bounds:
        are = "is" if bounds == 1 else "are"
        number = count(bounds, "result with only a lower bound", "results with only a lower bound")
        said.append(f"{number} {are} left out of the histories.")
    return Answer(
        headline=_headline(rows, found, verdicts),
        notes=(
            *(Note(text=left_words(one), warns=True) for one in left if one.body == rows[0].body),
            *(Note(text=text) for text in said),
        ),
        parts=tuple(_history(each, cases) for each in found),
        tables=(_results(sorted(rows, key=moment, reverse=True), quantity, cases),),
        closing=(rule,) if rule else (),
    )


def left_words(one: Left) -> str:
    """Return what became of a series that has no result now."""
    if one.kind == "failed":
        return f"Its series {one.series} failed at the last run: {one.why}"
    now = f" (its frames are now {one.why})" if one.why else ""
    return f"Its series {one.series} is gone{now}: archived, not judged."


def _headline(
    rows: Sequence[Row], found: Sequence[History], verdicts: Sequence[BodyVerdict] | None
) -> str:
    last = max(rows, key=moment)
    days = len({row.date for row in rows if row.date})
    when = f"{count(days, 'day')}, the latest {last.date}" if days else "an unknown day"
    parts = [f"{body_name(last)}: calibrated on {when}"]
    if verdicts is not None:
        verdict = verdict_words(verdicts[0]) if verdicts else "none"
        none = "" if verdicts else ", for no tolerance holds for its latest results"
        parts.append(f"verdict: {verdict}{none}")
    newest: dict[tuple[str, ...], History] = {}
    for history in sorted(found, key=lambda each: moment(each.latest.row)):
        newest[history.case] = history
    if newest:
        parts.append(f"next check by {min(each.next_check for each in newest.values())}")
    return "; ".join(parts) + "."


def _history(found: History, cases: Cases) -> Answer:
    """One history: what it says first, its trend, its points from the newest on."""
    last = found.latest.row
    case = cases.words(last.case, last.aim_stops, found.quantity)
    name = QUANTITY_NAMES[found.quantity]
    points = tuple(reversed(found.points))
    state = state_words(found) or "nothing unusual"
    return Answer(
        topic=f"{case}, {meter_words(last)}",
        headline=f"{capital(state)}.",
        lead=(
            f"{capital(name)}, EV. Bars: 95 %. Short lines: control limits from the calibrations "
            "before. Dashed: tolerance.",
        ),
        figures=facts(
            [
                ("Trend, EV a year", _trend(found)),
                ("Next check by", f"{found.next_check}: {found.why}"),
            ]
        ),
        notes=(Note(text=state, warns=True),) if asks_for_something(found) else (),
        tables=(
            FleetTable(
                caption=f"Calibrations, {case}, {meter_words(last)}",
                head=("Date", f"{capital(name)}, EV", "Change, EV", "Control limits, EV"),
                rows=tuple(_point(point, found.quantity) for point in points),
                numbers=(1, 2, 3),
                odd=frozenset(k for k, point in enumerate(points) if point.outside),
            ),
        ),
    )


def _trend(found: History) -> str:
    """The trend, whether it counts, from when on."""
    if found.trend is None:
        said = "none yet"
    else:
        counts = "significant" if found.trend.significant else "not significant"
        chance = chance_words(found.trend.probability)
        said = f"{trend_words(found)}, {counts} (by chance with probability {chance})"
    if found.adjusted:
        said += f", since the adjustment of {found.points[found.adjusted].row.date}"
    return said


def _point(point: Point, quantity: str) -> tuple[Cell, ...]:
    change = NONE
    if point.change_ev is not None and point.change_half_ev is not None:
        change = around(point.change_ev, point.change_half_ev)
    return (
        (point.row.date, state_of(point.row)),
        value_words(point.row.value(quantity)),
        (change, "significant" if point.change_significant else ""),
        (limits_words(point.low_ev, point.high_ev), "outside" if point.outside else ""),
    )


def _results(rows: Sequence[Row], quantity: str, cases: Cases) -> FleetTable:
    """Every result of a body, the newest first."""
    return FleetTable(
        caption="All results",
        head=(
            *("Date", "Case", "Lens, meter", f"{capital(QUANTITY_NAMES[quantity])}, EV"),
            *("Headroom, stops", "Frames", "Doubts"),
        ),
        rows=tuple(
            (
                (row.date or "undated", state_of(row)),
                cases.words(row.case, row.aim_stops, quantity),
                gear_words(row),
                value_words(row.value(quantity)),
                value_words(row.value("clip_headroom_ev"), sign=False),
                str(row.frames),
                ", ".join(row.doubts),
            )
            for row in rows
        ),
        numbers=(3, 4, 5),
        about=tuple(rows),
    )
