"""Prints an answer as plain text for a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from profiler.show.answer import Answer, Fact, Table

LOOK_OUT, NOTE = "!", "-"


def printed(answer: Answer) -> str:
    """Return an answer as text: the headline alone first, then everything else in blocks."""
    blocks = [[answer.headline], [*answer.lead]]
    if answer.tables:
        blocks.append(fact_lines(answer.figures))
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
    return "\n\n".join("\n".join(lines) for lines in blocks if lines)


def fact_lines(facts: Sequence[Fact]) -> list[str]:
    """Return names with their texts as indented, aligned lines."""
    width = max((len(fact.name) for fact in facts), default=0)
    return [f"  {fact.name:<{width}}  {fact.text}" for fact in facts]


def table_lines(table: Table) -> list[str]:
    """Return a table as aligned columns, its numbers to the right, under its caption."""
    rows = [table.head, *table.rows]
    widths = [max(len(row[i]) for row in rows) for i in range(len(table.head))]
    lines = [table.caption] if table.caption else []
    for row in rows:
        cells = [
            cell.rjust(width) if i in table.numbers else cell.ljust(width)
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append(f"  {'  '.join(cells)}".rstrip())
    return lines
