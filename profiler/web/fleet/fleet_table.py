"""The table of a fleet: every result with its verdict, to filter and to sort."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

from profiler.fleet.absent import absent_bodies
from profiler.fleet.columns import Rows, Text, column, doubt_counts
from profiler.fleet.decide import body_verdicts, moments
from profiler.fleet.lines import Lines, count_lines, make_lines
from profiler.fleet.rules import WORST
from profiler.show.fleet.decide import absent_count, absent_words
from profiler.show.fleet.lines import line_words, lines_headline, model_names
from profiler.web import fields
from profiler.web.fields import Field, Params, plain
from profiler.web.fleet.query import Query
from profiler.web.fleet.reply import Reply, reply

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

PAGE: Final = 100
"""Results on one page of the table."""
_SEARCHED: Final = (
    *("asset_tag", "camera_make", "camera_model", "camera_serial", "lens_model"),
    *("meter_make", "meter_model", "meter_serial", "mode", "light", "date"),
    *("state", "session", "card", "series", "flags", "duplicate_of", "stale"),
)
VERDICTS: Final = ("in", "out", "undecided", "expired")


COLUMNS: Final[dict[str, tuple[str, Callable[[Lines], list[NDArray[Any]]]]]] = {
    "body": ("Body", lambda lines: [_natural_ranks(_short_names(lines.rows))]),
    "iso": ("ISO", lambda lines: [lines.rows.number("iso")]),
    "mode": ("Mode, light", lambda lines: [lines.rows.text(n).ranks for n in ("mode", "light")]),
    "date": ("Date", lambda lines: moments(lines.rows)),
    "offset": ("Offset, EV", lambda lines: [lines.rows.number("offset_ev")]),
    "ei": ("EI", lambda lines: [lines.rows.number("exposure_index")]),
    "headroom": ("Headroom, stops", lambda lines: [lines.rows.number("clip_headroom_ev")]),
    "verdict": ("Verdict", lambda lines: [lines.verdict, lines.chance]),
    "doubts": ("Doubts", lambda lines: [doubt_counts(lines.rows)]),
}
"""Column -> heading, sort keys, the first of which counts first."""


def form(asked: Query) -> list[Field]:
    """Return the filters that this fleet gives a choice of, and the order."""
    rows = asked.rows
    isos = sorted({int(iso) for iso in rows.number("iso")})
    made = [
        Field(
            name="find",
            label="Find",
            hint="tag, serial, date, doubt ...",
        )
    ]
    choices: tuple[tuple[str, str, list[str]], ...] = (
        ("model", "Model", sorted(set(model_names(rows).values))),
        ("iso", "ISO label", [str(iso) for iso in isos]),
        ("mode", "Meter mode", sorted(rows.text("mode").used)),
        ("light", "Light", sorted(rows.text("light").used)),
    )
    made += [
        Field(
            name=name,
            label=label,
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
                choices=plain(VERDICTS, "all"),
            )
        )
    made.append(
        Field(
            name="dates",
            label="Calibrations",
            choices=(("", "the latest of each"), ("all", "all dates")),
            more=True,
        )
    )
    shown = _columns(asked)
    made.append(
        Field(
            name="sort",
            label="Sorted by",
            choices=tuple((name, COLUMNS[name][0].partition(",")[0].lower()) for name in shown),
        )
    )
    made.append(
        Field(
            name="order",
            label="Order",
            choices=(("", "ascending"), ("down", "descending")),
        )
    )
    return made


def answer(asked: Query) -> Reply:
    """Return the table as filtered and sorted, one page of it."""
    params = asked.params
    lines = _lines(asked)
    found = selected(asked)
    last = max(0, (len(found) - 1) // PAGE)
    number = min(last, fields.whole(params, "page", 1, low=1, high=1_000_000) - 1)
    sort, down = _sorting(params)
    shown = found[number * PAGE : (number + 1) * PAGE]
    return reply(
        lines_headline(count_lines(lines, found)),
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
        lines=[(line_words(line), asked.body_address(line.row)) for line in lines.chosen(shown)],
        first=number * PAGE + 1,
        count=len(found),
        pages=[
            (words, asked.here("table", page=str(to + 1)), to + 1)
            for words, to in (("Before", number - 1), ("Next", number + 1))
            if 0 <= to <= last
        ],
        csv=asked.here("table.csv"),
        rule=asked.rule_words(),
        held=bool(lines.held[found].any()),
        judged=asked.tolerances is not None,
        absent=asked.once("absent", lambda: _absent(lines, asked)),
        profiles=asked.profiles,
    )


def selected(asked: Query) -> NDArray[np.int64]:
    """Return the places of the results that the filters leave, sorted."""
    import numpy as np

    params = asked.params
    lines = _lines(asked)
    rows = lines.rows
    mask = np.ones(len(rows), dtype=bool)
    if fields.text(params, "dates") != "all":
        mask &= lines.current
    for name in ("mode", "light"):
        if wanted := fields.text(params, name):
            mask &= rows.text(name).are(wanted)
    if wanted := fields.text(params, "model"):
        mask &= model_names(rows).are(wanted)
    if wanted := fields.text(params, "iso"):
        mask &= rows.number("iso").astype(str) == wanted
    verdict = fields.text(params, "verdict") if asked.tolerances is not None else ""
    if verdict == "expired":
        mask &= lines.expired
    elif verdict:
        mask &= lines.verdict == (WORST.index(verdict) if verdict in WORST else -1)
    for word in fields.text(params, "find").casefold().split():
        mask &= _holds(rows, word)
    sort, down = _sorting(params)
    places = np.flatnonzero(mask)
    keys = [key[places] for key in reversed(COLUMNS[sort][1](lines))]
    if down:  # equal ones keep their order
        keys = [-_ranks(key) for key in keys]
    order: NDArray[np.int64] = places[np.lexsort(keys)]
    return order


def _lines(asked: Query) -> Lines:
    return asked.once("lines", lambda: make_lines(asked.rows, asked.tolerances, asked.today))


def _columns(asked: Query) -> list[str]:
    return [name for name in COLUMNS if name != "verdict" or asked.tolerances is not None]


def _sorting(params: Params) -> tuple[str, bool]:
    """By which column, and whether from the end; what isn't known sorts by body."""
    sort = params.get("sort", "")
    return sort if sort in COLUMNS else "body", params.get("order", "") == "down"


def _absent(lines: Lines, asked: Query) -> tuple[str, list[str]]:
    """How many are missing among the verdicts, and who; nobody without tolerances."""
    if lines.judged is None:
        return "", []
    verdicts = body_verdicts(lines.judged)
    found = absent_bodies(
        lines.rows,
        verdicts,
        asked.today,
        left=asked.profiles.left,
        wrong=asked.profiles.wrong,
    )
    return absent_count(found, verdicts), [absent_words(one) for one in found]


def _holds(rows: Rows, word: str) -> NDArray[np.bool_]:
    """Which rows hold a word anywhere in what names them."""
    import numpy as np

    mask = np.array([word in f"iso {iso}" for iso in rows.number("iso").tolist()], dtype=bool)
    for name in _SEARCHED:
        text = rows.text(name)
        mask |= text.are(*(value for value in text.values if word in value.casefold()))
    return mask


def _short_names(rows: Rows) -> Text:
    """The short name of each row's body."""
    import numpy as np

    tag, serial, series = (rows.text(n).array for n in ("asset_tag", "camera_serial", "series"))
    names = np.where(tag != "", tag, np.where(serial != "", serial, series))
    made = column("series", names.tolist())
    if not isinstance(made, Text):
        raise TypeError("names are text")
    return made


def _natural_ranks(text: Text) -> NDArray[np.int64]:
    import numpy as np

    order = sorted(range(len(text.values)), key=lambda k: _natural(text.values[k]))
    places = np.empty(len(order), dtype=np.int64)
    places[order] = np.arange(len(order))
    ranked: NDArray[np.int64] = places[text.codes]
    return ranked


def _ranks(key: NDArray[Any]) -> NDArray[np.int64]:
    import numpy as np

    ranks: NDArray[np.int64] = np.unique(key, return_inverse=True)[1]
    return ranks


def _natural(name: str) -> list[tuple[bool, int, str]]:
    """A key that puts R9 before R10."""
    return [_part(part) for part in re.findall(r"[0-9]+|[^0-9]+", name.casefold())]


def _part(part: str) -> tuple[bool, int, str]:
    """Numbers first, by their length without zeros in front, then by their digits."""
    if part[0] not in "0123456789":
        return (True, 0, part)
    digits = part.lstrip("0")
    return (False, len(digits), digits)
