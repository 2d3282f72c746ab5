"""One body: every calibration of it over time, what changed, when to check it again."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from profiler.fleet.compare import of_body
from profiler.fleet.decide import adjustments, body_verdicts, judge, moment
from profiler.fleet.drift import History, Point
from profiler.fleet.rows import Row
from profiler.show.fleet.decide import adjustment_words, judged_words, verdict_words
from profiler.show.fleet.drift import asks_for_something, state_words, trend_words
from profiler.show.fleet.words import (
    NONE,
    QUANTITY_NAMES,
    body_name,
    chance_words,
    gear_words,
    interval,
    limits_words,
    meter_words,
    value_words,
)
from profiler.show.words import count
from profiler.web import fields
from profiler.web.fields import Field
from profiler.web.fleet import charts
from profiler.web.fleet.drifting import all_histories
from profiler.web.fleet.query import Query, common_field, quantity_field
from profiler.web.fleet.reply import Reply, reply


def form(asked: Query) -> list[Field]:
    """Return which body, and what of it."""
    params = asked.params
    return [
        Field(
            name="body",
            label="Body",
            hint="tag or serial",
            value=params.get("body", ""),
            suggestions=asked.names(),
        ),
        quantity_field(params),
        common_field(params),
    ]


def answer(asked: Query) -> Reply:
    """Return the histories of the body that is named."""
    name = fields.text(asked.params, "body")
    if not name:
        return Reply(headline="Name a body, by tag or serial.", waits=True)
    rows = of_body(asked.rows, name)
    found = _histories(rows, asked)
    verdict, judged = _verdict(rows, asked)
    last = max(rows, key=moment)
    return reply(
        _headline(last, rows, verdict, found),
        "fleet_body.html",
        quantity=QUANTITY_NAMES[asked.quantity],
        body=body_name(last),
        histories=[_history(each, asked) for each in found],
        bounds=sum(
            value is not None and value.lower_bound
            for value in (row.value(asked.quantity) for row in rows)
        ),
        judged=judged,
        rule=asked.rule_words(),
        calibrations=[_calibration(row, asked) for row in sorted(rows, key=moment, reverse=True)],
        profiles=asked.profiles,
    )


def _histories(rows: Sequence[Row], asked: Query) -> list[History]:
    """The histories as the whole fleet shows them; none where only lower bounds are known."""
    values = [row.value(asked.quantity) for row in rows]
    if all(value is None or value.lower_bound for value in values):
        return []
    return [each for each in all_histories(asked)[0] if each.body == rows[0].body]


def _verdict(rows: Sequence[Row], asked: Query) -> tuple[str, list[str]]:
    """The body's verdict today, and what it rests on, adjustments last."""
    if asked.tolerances is None:
        return "", []
    judged = judge(rows, asked.tolerances, asked.today, none_holds=True)
    verdicts = body_verdicts(judged)
    if not verdicts:
        return "none, for no tolerance holds for its latest results", []
    said = [judged_words(one) for one in verdicts[0].judged]
    said += [adjustment_words(pair) for pair in adjustments(judged, asked.sharing)]
    return verdict_words(verdicts[0]), said


def _headline(last: Row, rows: Sequence[Row], verdict: str, found: Sequence[History]) -> str:
    dates = len({row.date for row in rows})
    parts = [f"{body_name(last)}: calibrated on {count(dates, 'day')}, the latest {last.date}"]
    if verdict:
        parts.append(f"verdict: {verdict}")
    newest: dict[tuple[str, ...], History] = {}
    for history in sorted(found, key=lambda h: moment(h.latest.row)):
        newest[history.case] = history
    if newest:
        parts.append(f"next check by {min(h.next_check for h in newest.values())}")
    return "; ".join(parts) + "."


def _history(found: History, asked: Query) -> dict[str, Any]:
    last = found.latest.row
    return {
        "title": f"{asked.case_of(last)}, {meter_words(last)}",
        "chart": charts.history(found, asked.tolerances),
        "trend": _trend(found),
        "state": state_words(found) or "nothing unusual",
        "odd": asks_for_something(found),
        "due": found.next_check,
        "why": found.why,
        "points": [_point(point, found.quantity) for point in reversed(found.points)],
    }


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


def _point(point: Point, quantity: str) -> dict[str, Any]:
    change = NONE
    if point.change_ev is not None and point.change_half_ev is not None:
        half = point.change_half_ev
        change = interval(point.change_ev, point.change_ev - half, point.change_ev + half)
    return {
        "date": point.row.date,
        "state": point.row.state.replace("-", " "),
        "value": value_words(point.row.value(quantity)),
        "change": change,
        "significant": point.change_significant,
        "control": limits_words(point.low_ev, point.high_ev),
        "odd": point.outside,
    }


def _calibration(row: Row, asked: Query) -> dict[str, Any]:
    return {
        "date": row.date,
        "state": row.state.replace("-", " "),
        "case": asked.case_of(row),
        "gear": gear_words(row),
        "value": value_words(row.value(asked.quantity)),
        "headroom": value_words(row.value("clip_headroom_ev"), sign=False),
        "frames": row.frames,
        "doubts": row.doubts,
        "series": row.series,
        "record": asked.address("record", series=row.series),
    }
