"""Prints an answer as plain text for a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from profiler.show.answer import Answer, Fact, Table, main_of, remark_of

LOOK_OUT, NOTE = "!", "-"


def printed(answer: Answer) -> str:
    """Return an answer as text: the headline alone first, then everything else in blocks."""
    blocks = [[answer.topic], [answer.headline], [*answer.lead]]
    if answer.tables or answer.parts:
        blocks.append(fact_lines(answer.figures))
        blocks += [[printed(part)] for part in answer.parts]
        blocks += [table_lines(table) for table in answer.tables]
        blocks.append(fact_lines(answer.rows))
    else:
        blocks.append(fact_lines((*answer.figures, *answer.rows)))
    notes = [f"  {LOOK_OUT if note.warns else NOTE} {note.text}" for note in answer.notes]
    if not answer.waits:
        notes += [f"  {LOOK_OUT} {text}" for text in answer.missing]
    blocks.append(notes)
    blocks.append([f"{i}. {step}" for i, step in enumerate(answer.steps, start=1)])
    blocks.append([*answer.closing])
    return "\n\n".join("\n".join(lines) for lines in blocks if any(lines))


def fact_lines(facts: Sequence[Fact]) -> list[str]:
    """Return names with their texts as indented, aligned lines."""
    width = max((len(fact.name) for fact in facts), default=0)
    return [f"  {fact.name:<{width}}  {fact.text}" for fact in facts]


def table_lines(table: Table) -> list[str]:
    """Return a table as aligned columns, its numbers to the right, under its caption.

    Remarks to the cells of a row stand at its end.
    """
    rows = [table.head, *table.rows, *table.foot]
    widths = [max(len(main_of(row[i])) for row in rows) for i in range(len(table.head))]
    lines = [table.caption] if table.caption else []
    for row in rows:
        cells = [
            main_of(cell).rjust(width) if i in table.numbers else main_of(cell).ljust(width)
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        remarks = ", ".join(filter(None, map(remark_of, row)))
        lines.append(f"  {'  '.join([*cells, remarks])}".rstrip())
    return lines
