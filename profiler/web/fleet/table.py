"""The table of a fleet: every result with its verdict, to filter and to sort."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from profiler.fleet.decide import Judged, judge, latest_rows, moment
from profiler.fleet.rows import Row
from profiler.show.calibration.identity import full_name as model_name
from profiler.show.fleet.decide import count_words
from profiler.show.fleet.words import (
    QUANTITY_NAMES,
    gear_words,
    model_words,
    share_words,
    short_name,
    value_words,
)
from profiler.show.words import count, three_figures
from profiler.web import fields
from profiler.web.fields import Field, Params, plain
from profiler.web.fleet.query import Query
from profiler.web.fleet.reply import Reply, reply

PAGE: Final = 100
"""Results on one page of the table."""
_WORST: Final = ("out", "undecided", "in", "")
VERDICTS: Final = ("in", "out", "undecided", "expired")


@dataclass(frozen=True, kw_only=True)
class Line:
    """One result with its verdict: the worst of those on its quantities, empty without any.

    chance: the least probability of conformance of the quantities of that verdict, 1 where none is
    known. held: whether a tolerance holds for it, be its quantity measured or not.
    """

    row: Row
    current: bool
    verdict: str
    worst: Judged | None
    chance: float
    expired: bool
    held: bool


COLUMNS: Final[dict[str, tuple[str, Callable[[Line], Any]]]] = {
    "body": ("Body", lambda line: _natural(short_name(line.row))),
    "iso": ("ISO", lambda line: line.row.iso),
    "mode": ("Mode, light", lambda line: (line.row.mode, line.row.light)),
    "date": ("Date", lambda line: moment(line.row)),
    "offset": ("Offset, EV", lambda line: line.row.offset_ev),
    "ei": ("EI", lambda line: line.row.exposure_index),
    "headroom": ("Headroom, stops", lambda line: line.row.clip_headroom_ev),
    "verdict": ("Verdict", lambda line: (_WORST.index(line.verdict), line.chance)),
    "doubts": ("Doubts", lambda line: len(line.row.doubts)),
}
"""Column -> heading, sort key."""


def form(asked: Query) -> list[Field]:
    """Return the filters that this fleet gives a choice of, and the order."""
    rows, params = asked.rows, asked.params
    made = [
        Field(
            name="find",
            label="Find",
            hint="tag, serial, date, doubt ...",
            value=params.get("find", ""),
        )
    ]
    choices: tuple[tuple[str, str, list[str]], ...] = (
        ("model", "Model", sorted({_model(row) for row in rows})),
        ("iso", "ISO label", [str(iso) for iso in sorted({row.iso for row in rows})]),
        ("mode", "Meter mode", sorted({row.mode for row in rows})),
        ("light", "Light", sorted({row.light for row in rows})),
    )
    made += [
        Field(
            name=name,
            label=label,
            value=params.get(name, ""),
            choices=plain(values, "all"),
            more=name in ("mode", "light"),
        )
        for name, label, values in choices
        if len(values) > 1
    ]
    if asked.tolerances is not None:
        made.append(
            Field(
                name="verdict",
                label="Verdict",
                value=params.get("verdict", ""),
                choices=plain(VERDICTS, "all"),
            )
        )
    made.append(
        Field(
            name="dates",
            label="Calibrations",
            value=params.get("dates", ""),
            choices=(("", "the latest of each"), ("all", "all dates")),
            more=True,
        )
    )
    shown = _columns(asked)
    made.append(
        Field(
            name="sort",
            label="Sorted by",
            value=params.get("sort", ""),
            choices=tuple((name, COLUMNS[name][0].partition(",")[0].lower()) for name in shown),
        )
    )
    made.append(
        Field(
            name="order",
            label="Order",
            value=params.get("order", ""),
            choices=(("", "ascending"), ("down", "descending")),
        )
    )
    return made


def answer(asked: Query) -> Reply:
    """Return the table as filtered and sorted, one page of it."""
    params = asked.params
    found = selected(asked)
    last = max(0, (len(found) - 1) // PAGE)
    number = min(last, fields.whole(params, "page", 1, low=1, high=1_000_000) - 1)
    sort, down = _sorting(params)
    shown = found[number * PAGE : (number + 1) * PAGE]
    return reply(
        _headline(found, asked),
        "fleet_table.html",
        columns=[
            {
                "name": name,
                "words": COLUMNS[name][0],
                "sorted": name == sort,
                "down": down,
                "address": asked.here(
                    "table", sort=name, order="down" if name == sort and not down else "", page="1"
                ),
            }
            for name in _columns(asked)
        ],
        lines=[_cells(line, asked) for line in shown],
        first=number * PAGE + 1,
        count=len(found),
        pages=[
            (words, asked.here("table", page=str(to + 1)), to + 1)
            for words, to in (("Before", number - 1), ("Next", number + 1))
            if 0 <= to <= last
        ],
        csv=asked.here("table.csv"),
        rule=asked.rule_words(),
        held=any(line.held for line in found),
        judged=asked.tolerances is not None,
        profiles=asked.profiles,
    )


def selected(asked: Query) -> list[Line]:
    """Return the lines that the filters leave, sorted."""
    params = asked.params
    words = fields.text(params, "find").casefold().split()
    wanted = {name: fields.text(params, name) for name in ("model", "iso", "mode", "light")}
    verdict = fields.text(params, "verdict") if asked.tolerances is not None else ""
    every = fields.text(params, "dates") == "all"
    found = [
        line
        for line in asked.once("lines", lambda: _lines(asked))
        if (every or line.current)
        and _meets(line.row, wanted)
        and (not verdict or line.verdict == verdict or (verdict == "expired" and line.expired))
        and (not words or all(word in _searched(line.row) for word in words))
    ]
    sort, down = _sorting(params)
    return sorted(found, key=COLUMNS[sort][1], reverse=down)


def _lines(asked: Query) -> list[Line]:
    """All results with their verdicts, in table order."""
    held: dict[int, list[Judged]] = {}
    if asked.tolerances is not None:
        for one in judge(asked.rows, asked.tolerances, asked.today, none_holds=True):
            held.setdefault(id(one.row), []).append(one)
    newest = {id(row) for row in latest_rows(asked.rows)}
    out = []
    for row in asked.rows:
        judged = held.get(id(row), [])
        worst = min(
            judged,
            key=lambda one: (_WORST.index(one.verdict), _chance(one)),
            default=None,
        )
        out.append(
            Line(
                row=row,
                current=id(row) in newest,
                verdict="" if worst is None else worst.verdict,
                worst=worst,
                chance=1.0 if worst is None else _chance(worst),
                expired=id(row) in newest and any(one.expired for one in judged),
                held=asked.tolerances is not None
                and any(tolerance.holds_for(row) for tolerance in asked.tolerances.tolerances),
            )
        )
    return out


def _chance(one: Judged) -> float:
    """The probability that it conforms; a lower bound has none, and is known to."""
    return 1.0 if one.probability is None else one.probability


def _columns(asked: Query) -> list[str]:
    return [name for name in COLUMNS if name != "verdict" or asked.tolerances is not None]


def _sorting(params: Params) -> tuple[str, bool]:
    """By which column, and whether from the end; what isn't known sorts by body."""
    sort = params.get("sort", "")
    return sort if sort in COLUMNS else "body", params.get("order", "") == "down"


def _meets(row: Row, wanted: dict[str, str]) -> bool:
    return (
        wanted["model"] in ("", _model(row))
        and wanted["iso"] in ("", str(row.iso))
        and wanted["mode"] in ("", row.mode)
        and wanted["light"] in ("", row.light)
    )


def _searched(row: Row) -> str:
    parts = (
        *(row.asset_tag, row.camera_make, row.camera_model, row.camera_serial, row.lens_model),
        *(row.meter_make, row.meter_model, row.meter_serial, row.mode, row.light, row.date),
        *(row.state, row.session, row.card, row.series, row.flags, f"iso {row.iso}"),
    )
    return " ".join(parts).casefold()


def _headline(found: Sequence[Line], asked: Query) -> str:
    bodies = {line.row.body for line in found}
    results = f"{count(len(found), 'result')} of {count(len(bodies), 'body', 'bodies')}"
    if asked.tolerances is None or not found:
        return f"{results}."
    worst = asked.once("bodies", lambda: _by_body(asked))
    held = Counter(worst[body][0] for body in bodies)
    return f"{results}: {count_words(held, sum(worst[body][1] for body in bodies))}."


def _by_body(asked: Query) -> dict[tuple[str, str, str], tuple[str, bool]]:
    """Each body's worst verdict of its latest results, and whether one of them has expired."""
    worst: dict[tuple[str, str, str], tuple[str, bool]] = {}
    for line in asked.once("lines", lambda: _lines(asked)):
        verdict, expired = worst.get(line.row.body, ("", False))
        if line.current:
            verdict = min(verdict, line.verdict, key=_WORST.index)
            expired |= line.expired
        worst[line.row.body] = (verdict, expired)
    return worst


def _cells(line: Line, asked: Query) -> dict[str, Any]:
    row = line.row
    verdict = line.verdict
    if line.worst is not None and verdict != "in":
        verdict += f": {QUANTITY_NAMES[line.worst.quantity]}"
    return {
        "name": short_name(row),
        "body": model_words(row),
        "address": asked.body_address(row),
        "gear": gear_words(row),
        "iso": row.iso,
        "mode": f"{row.mode}, {row.light}",
        "date": row.date,
        "state": row.state.replace("-", " "),
        "offset": value_words(row.value("offset_ev")),
        "ei": ("at most " if row.lower_bound else "") + three_figures(row.exposure_index),
        "headroom": value_words(row.value("clip_headroom_ev"), sign=False),
        "verdict": verdict,
        "kind": line.verdict,
        "chance": ""
        if line.worst is None or line.worst.probability is None
        else share_words(line.worst.probability),
        "silent": "not measured" if line.held else "no tolerance",
        "expired": line.worst.expires if line.expired and line.worst is not None else "",
        "doubts": row.doubts,
    }


def _model(row: Row) -> str:
    return model_name(row.camera_make, row.camera_model) or "not named"


def _natural(name: str) -> list[tuple[bool, int, str]]:
    """A key that puts R9 before R10."""
    return [_part(part) for part in re.findall(r"[0-9]+|[^0-9]+", name.casefold())]


def _part(part: str) -> tuple[bool, int, str]:
    """Numbers first, by their length without zeros in front, then by their digits."""
    if part[0] not in "0123456789":
        return (True, 0, part)
    digits = part.lstrip("0")
    return (False, len(digits), digits)
