"""Prints an answer as plain text for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from itertools import zip_longest
from typing import Final

from profiler.show.answer import Answer, Fact, Table, main_of, remark_of

LOOK_OUT, NOTE = "!", "-"
_INDENT: Final = "  "
_LEAST_REMARK: Final = 24
"""Characters that a remark needs beside its row; with fewer it goes below."""
_LEAST_TEXT: Final = 14
"""Characters that a column of texts keeps."""


def printed(answer: Answer, width: int | None = None) -> str:
    """Return an answer as text: the headline alone first, then everything else in blocks.

    width: characters of a line, None for lines as long as they come.
    """
    blocks = [_wrapped(text, width) for text in (answer.topic, answer.headline)]
    blocks.append(_each(answer.lead, width))
    if answer.tables or answer.parts:
        blocks.append(fact_lines(answer.figures, width))
        blocks += [[printed(part, width)] for part in answer.parts]
        blocks += [table_lines(table, width) for table in answer.tables]
        blocks.append(fact_lines(answer.rows, width))
    else:
        blocks.append(fact_lines((*answer.figures, *answer.rows), width))
    notes = [(LOOK_OUT if note.warns else NOTE, note.text) for note in answer.notes]
    if not answer.waits:
        notes += [(LOOK_OUT, text) for text in answer.missing]
    blocks.append(_each((text for _, text in notes), width, [f"{_INDENT}{m} " for m, _ in notes]))
    numbers = [f"{i}. " for i in range(1, len(answer.steps) + 1)]
    blocks.append(_each(answer.steps, width, numbers))
    blocks.append(_each(answer.closing, width))
    return "\n\n".join("\n".join(lines) for lines in blocks if any(lines))


def fact_lines(facts: Sequence[Fact], width: int | None = None) -> list[str]:
    """Return names with their texts as indented, aligned lines."""
    longest = max((len(fact.name) for fact in facts), default=0)
    starts = [f"{_INDENT}{fact.name:<{longest}}  " for fact in facts]
    return _each((fact.text for fact in facts), width, starts)


def table_lines(table: Table, width: int | None = None) -> list[str]:
    """Return a table as aligned columns, its numbers to the right, under its caption.

    Remarks to the cells of a row stand at its end. Where that is wider than a line, names of
    columns and texts are broken at their words, and a remark goes on below its row; where even
    that is too wide, each row is a paragraph that names its cells.
    """
    rows = [[main_of(cell) for cell in row] for row in (*table.rows, *table.foot)]
    remarks = [", ".join(filter(None, map(remark_of, row))) for row in (*table.rows, *table.foot)]
    names = [main_of(name) for name in table.head]
    lines = _wrapped(table.caption, width)
    room = width or 10_000
    columns = _columns(names, rows, table.numbers, room, max(map(len, remarks), default=0))
    if columns is None:
        for cells, remark in zip(rows, remarks, strict=True):
            named = (
                f"{name}: {cell}" for name, cell in zip(names[1:], cells[1:], strict=True) if cell
            )
            said = "; ".join([*named, *filter(None, [remark])])
            lines += [f"{_INDENT}{cells[0]}", *_wrapped(said, width, 2 * _INDENT)]
        return lines
    head = [textwrap.wrap(name, column) for name, column in zip(names, columns, strict=True)]
    deep = max(map(len, head))
    lines += _row([[""] * (deep - len(part)) + part for part in head], columns, table.numbers)
    beside = room - _length(columns) - 2
    for cells, remark in zip(rows, remarks, strict=True):
        parts = [textwrap.wrap(cell, column) for cell, column in zip(cells, columns, strict=True)]
        row = _row(parts, columns, table.numbers)
        if len(row) == 1 and remark and beside >= min(_LEAST_REMARK, len(remark)):
            row = _wrapped(remark, width, f"{row[0]:<{_length(columns)}}  ")
        elif remark:
            row += _wrapped(remark, width, 3 * _INDENT)
        lines += row
    return lines


def _columns(
    names: Sequence[str],
    rows: Sequence[Sequence[str]],
    numbers: Sequence[int],
    room: int,
    remark: int,
) -> list[int] | None:
    """Widths of the columns: whole, else with names and texts broken; None where they don't fit.

    remark: characters of the longest one.
    """
    cells = list(zip(*rows, strict=True)) or [() for _ in names]
    sizes = [max(map(len, column), default=0) for column in cells]
    whole = [max(size, len(name)) for size, name in zip(sizes, names, strict=True)]
    if _length(whole) + (2 + remark if remark else 0) <= room:
        return whole
    broken = [max(size, _word(name)) for size, name in zip(sizes, names, strict=True)]
    for i in sorted(range(len(names)), key=lambda i: -broken[i]):
        if i not in numbers:
            least = max(_LEAST_TEXT, *map(_word, (names[i], *cells[i])))
            broken[i] = max(broken[i] - max(0, _length(broken) - room), min(least, broken[i]))
    return broken if _length(broken) <= room else None


def _word(text: str) -> int:
    """Characters of the longest word."""
    return max(map(len, text.split()), default=0)


def _row(
    cells: Sequence[Sequence[str]], columns: Sequence[int], numbers: Sequence[int]
) -> list[str]:
    """A row whose cells may take several lines."""
    lines = []
    for parts in zip_longest(*cells, fillvalue=""):
        set_out = (
            part.rjust(column) if i in numbers else part.ljust(column)
            for i, (part, column) in enumerate(zip(parts, columns, strict=True))
        )
        lines.append(f"{_INDENT}{'  '.join(set_out)}".rstrip())
    return lines or [""]


def _length(columns: Sequence[int]) -> int:
    """Characters of a row."""
    return len(_INDENT) + sum(columns) + 2 * (len(columns) - 1)


def _each(texts: Iterable[str], width: int | None, starts: Sequence[str] = ()) -> list[str]:
    """Texts below each other, each with its own start."""
    lines: list[str] = []
    for i, text in enumerate(texts):
        lines += _wrapped(text, width, starts[i] if starts else "")
    return lines


def _wrapped(text: str, width: int | None, start: str = "") -> list[str]:
    """A text as lines of that width, set in under its start."""
    if width is None or len(start) + len(text) <= width:
        return [start + text] if start + text else []
    lines = textwrap.wrap(
        text.replace("± ", "±\N{NO-BREAK SPACE}"),
        max(width, len(start) + _LEAST_REMARK),
        initial_indent=start,
        subsequent_indent=" " * len(start),
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace("±\N{NO-BREAK SPACE}", "± ") for line in lines]
