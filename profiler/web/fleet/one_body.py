"""One body: every calibration of it over time, what changed, when to check it again."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from profiler.fleet.columns import Rows
from profiler.fleet.compare import of_body
from profiler.fleet.decide import adjustments, body_verdicts, counted, judge
from profiler.fleet.drift import History
from profiler.fleet.rows import Row
from profiler.show.fleet.body import body_answer
from profiler.web import fields
from profiler.web.fields import Field
from profiler.web.fleet import charts
from profiler.web.fleet.drifting import all_histories
from profiler.web.fleet.query import Query, common_field, quantity_field
from profiler.web.fleet.reply import Reply, reply


def form(asked: Query) -> list[Field]:
    """Return which body, and what of it."""
    return [
        Field(
            name="body",
            label="Body",
            hint="tag or serial",
            suggestions=asked.names(),
        ),
        quantity_field(),
        common_field(),
    ]


def answer(asked: Query) -> Reply:
    """Return the histories of the body that is named."""
    name = fields.text(asked.params, "body")
    if not name:
        return Reply(headline="Name a body, by tag or serial.", waits=True)
    rows = of_body(asked.rows, name)
    found = _histories(rows, asked)
    given = body_answer(
        rows,
        found,
        asked.quantity,
        asked.cases(),
        left=asked.profiles.left,
        rule=asked.rule_words(),
        **_judged(rows, asked),
    )
    return reply(
        given.headline,
        "fleet_body.html",
        answer=given,
        charts=[charts.history(each, asked.tolerances) for each in found],
        record=lambda row: asked.address("record", series=row.series),
        profiles=asked.profiles,
    )


def _histories(rows: Sequence[Row], asked: Query) -> list[History]:
    """The histories as the whole fleet shows them; none without an exact one of a known day."""
    table = Rows.of(rows)
    dated = ~table.text("date").are("")
    if not (table.values(asked.quantity).usable & dated & counted(table)).any():
        return []
    body = rows[0].body  # made anew from the columns each time that it is asked for
    return [each for each in all_histories(asked)[0] if each.body == body]


def _judged(rows: Sequence[Row], asked: Query) -> dict[str, Any]:
    """The body's verdicts of today and its adjustments; nothing without tolerances."""
    if asked.tolerances is None:
        return {}
    judged = judge(rows, asked.tolerances, asked.today, none_holds=True)
    return {"verdicts": body_verdicts(judged), "pairs": adjustments(judged, asked.sharing)}
