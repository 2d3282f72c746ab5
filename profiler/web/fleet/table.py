"""The table of a fleet: every result with its verdict, to filter and to sort."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, Final

from profiler.fleet.decide import moment
from profiler.fleet.lines import WORST, Line, make_lines, worst_by_body
from profiler.fleet.rows import Row
from profiler.show.fleet.lines import line_words, lines_headline, model_of
from profiler.show.fleet.words import short_name
from profiler.web import fields
from profiler.web.fields import Field, Params, plain
from profiler.web.fleet.query import Query
from profiler.web.fleet.reply import Reply, reply

PAGE: Final = 100
"""Results on one page of the table."""
VERDICTS: Final = ("in", "out", "undecided", "expired")


COLUMNS: Final[dict[str, tuple[str, Callable[[Line], Any]]]] = {
    "body": ("Body", lambda line: _natural(short_name(line.row))),
    "iso": ("ISO", lambda line: line.row.iso),
    "mode": ("Mode, light", lambda line: (line.row.mode, line.row.light)),
    "date": ("Date", lambda line: moment(line.row)),
    "offset": ("Offset, EV", lambda line: line.row.offset_ev),
    "ei": ("EI", lambda line: line.row.exposure_index),
    "headroom": ("Headroom, stops", lambda line: line.row.clip_headroom_ev),
    "verdict": ("Verdict", lambda line: (WORST.index(line.verdict), line.chance)),
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
        ("model", "Model", sorted({model_of(row) for row in rows})),
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
        lines_headline(found, _worst(asked)),
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
        lines=[(line_words(line), asked.body_address(line.row)) for line in shown],
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
        for line in _lines(asked)
        if (every or line.current)
        and _meets(line.row, wanted)
        and (not verdict or line.verdict == verdict or (verdict == "expired" and line.expired))
        and (not words or all(word in _searched(line.row) for word in words))
    ]
    sort, down = _sorting(params)
    return sorted(found, key=COLUMNS[sort][1], reverse=down)


def _lines(asked: Query) -> list[Line]:
    return asked.once("lines", lambda: make_lines(asked.rows, asked.tolerances, asked.today))


def _columns(asked: Query) -> list[str]:
    return [name for name in COLUMNS if name != "verdict" or asked.tolerances is not None]


def _sorting(params: Params) -> tuple[str, bool]:
    """By which column, and whether from the end; what isn't known sorts by body."""
    sort = params.get("sort", "")
    return sort if sort in COLUMNS else "body", params.get("order", "") == "down"


def _meets(row: Row, wanted: dict[str, str]) -> bool:
    return (
        wanted["model"] in ("", model_of(row))
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


def _worst(asked: Query) -> dict[tuple[str, str, str], tuple[str, bool]] | None:
    if asked.tolerances is None:
        return None
    return asked.once("bodies", lambda: worst_by_body(_lines(asked)))


def _natural(name: str) -> list[tuple[bool, int, str]]:
    """A key that puts R9 before R10."""
    return [_part(part) for part in re.findall(r"[0-9]+|[^0-9]+", name.casefold())]


def _part(part: str) -> tuple[bool, int, str]:
    """Numbers first, by their length without zeros in front, then by their digits."""
    if part[0] not in "0123456789":
        return (True, 0, part)
    digits = part.lstrip("0")
    return (False, len(digits), digits)
