"""Prints an answer as plain text for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from typing import Final

from profiler.show.answer import Answer, Fact, Table, main_of, remark_of

LOOK_OUT, NOTE = "!", "-"
_INDENT: Final = "  "
_LEAST_REMARK: Final = 24
"""Characters that a remark needs beside its row; with fewer it goes below."""


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

    Remarks to the cells of a row stand at its end. Where that is wider than a line, the names of
    columns are broken at their words, and a remark goes on below its row.
    """
    rows = [*table.rows, *table.foot]
    sizes = [max((len(main_of(row[i])) for row in rows), default=0) for i in range(len(table.head))]
    names = [main_of(name) for name in table.head]
    whole = [max(size, len(name)) for size, name in zip(sizes, names, strict=True)]
    remarks = [", ".join(filter(None, map(remark_of, row))) for row in rows]
    room = width or 10_000
    if _length(whole) + 2 + max(map(len, remarks), default=0) <= room:
        columns, head = whole, [names]
    else:
        columns = [
            max(size, *map(len, name.split() or [""]))
            for size, name in zip(sizes, names, strict=True)
        ]
        head = _broken(names, columns)
    lines = _wrapped(table.caption, width)
    lines += [_row(cells, columns, table.numbers).rstrip() for cells in head]
    beside = room - _length(columns) - 2
    for row, remark in zip(rows, remarks, strict=True):
        cells = _row([main_of(cell) for cell in row], columns, table.numbers)
        if not remark:
            lines.append(cells.rstrip())
        elif beside >= _LEAST_REMARK:
            lines += [line.rstrip() for line in _wrapped(remark, width, f"{cells}  ")]
        else:
            lines += [cells.rstrip(), *_wrapped(remark, width, 3 * _INDENT)]
    return lines


def _row(cells: Sequence[str], columns: Sequence[int], numbers: Sequence[int]) -> str:
    """One line of a table."""
    set_out = (
        cell.rjust(column) if i in numbers else cell.ljust(column)
        for i, (cell, column) in enumerate(zip(cells, columns, strict=True))
    )
    return f"{_INDENT}{'  '.join(set_out)}"


def _length(columns: Sequence[int]) -> int:
    """Characters of a row."""
    return len(_row([""] * len(columns), columns, ()))


def _broken(names: Sequence[str], columns: Sequence[int]) -> list[list[str]]:
    """The names of columns on as many lines as they need, standing on the lowest."""
    parts = [textwrap.wrap(name, column) for name, column in zip(names, columns, strict=True)]
    deep = max(map(len, parts), default=0)
    filled = [[""] * (deep - len(part)) + part for part in parts]
    return [list(line) for line in zip(*filled, strict=True)]


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
