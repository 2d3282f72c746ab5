"""A plan as one page to print, with boxes to tick; self-contained HTML."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from profiler.onset.plan import Plan
from profiler.show.answer import Cell, Table, main_of
from profiler.show.onset.plan import plan_answer

_STYLE = """
@page { margin: 14mm 15mm; }
* { box-sizing: border-box; }
body { font: 10pt/1.35 "Liberation Sans", "Helvetica", Arial, sans-serif; color: #000;
  max-width: 180mm; margin: 0 auto; padding: 6mm 0; background: #fff; }
h1 { font-size: 15pt; margin: 0 0 1mm; }
h2 { font-size: 11pt; margin: 0 0 1mm; border-bottom: 0.6mm solid #000; }
p { margin: 1mm 0; }
.promise { font-weight: bold; }
dl { display: grid; grid-template-columns: 26mm 1fr; gap: 0.6mm 3mm; margin: 3mm 0; }
dt { color: #333; } dd { margin: 0; }
.labels { display: flex; flex-wrap: wrap; gap: 4mm 8mm; }
section { break-inside: avoid; flex: 1 1 82mm; }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }
th { text-align: left; font-weight: normal; color: #333; font-size: 8.5pt; }
td { border-top: 0.2mm solid #999; padding: 0.5mm 1.5mm 0.5mm 0; }
td.tick { white-space: nowrap; letter-spacing: 1mm; }
.box { display: inline-block; width: 3.4mm; height: 3.4mm; border: 0.3mm solid #000;
  margin-right: 1mm; vertical-align: -0.4mm; }
.fill { display: grid; grid-template-columns: 1fr 1fr 1fr; gap: 6mm; margin: 4mm 0; }
.fill div { border-bottom: 0.3mm solid #000; height: 9mm; font-size: 8.5pt; color: #333; }
.warn { border-left: 1.2mm solid #000; padding-left: 2mm; }
ol { margin: 2mm 0; padding-left: 6mm; } .small { font-size: 8.5pt; }
"""
_TWO = 2


def plan_page(plan: Plan, then: Sequence[str] = ()) -> str:
    """Return the page as HTML: promise, light, lines to fill in, list with boxes, steps, cautions.

    Prints on A4 as on Letter, in black and white.
    """
    answer = plan_answer(plan, then)
    facts = "".join(
        f"<dt>{escape(fact.name)}</dt><dd>{escape(fact.text)}</dd>" for fact in answer.figures
    )
    labels = "".join(
        _label(table, [frame.copies for frame in label.frames])
        for table, label in zip(answer.tables, plan.labels, strict=True)
    )
    warnings = "".join(f'<p class="warn">{escape(note.text)}</p>' for note in answer.notes)
    steps = "".join(f"<li>{escape(step)}</li>" for step in answer.steps)
    care = "".join(f"<p>{escape(text)}</p>" for text in answer.closing)
    several = "s" if plan.readings > _TWO else ""
    sides = (" before", " after") if plan.readings > 1 else ("",)
    read = tuple(f"reading{several}{side}" for side in sides)
    blanks = ("body, lens", "meter", "date", *read, "card, filters")
    fill = "".join(f"<div>{escape(name)}</div>" for name in blanks)
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        f"<title>Shooting list</title><style>{_STYLE}</style></head>\n<body>\n"
        f'<h1>Shooting list</h1>\n<p class="promise">{escape(answer.headline)}</p>\n'
        f'<div class="fill">{fill}</div>\n<dl>{facts}</dl>\n{warnings}\n'
        f'<div class="labels">{labels}</div>\n<ol class="small">{steps}</ol>\n'
        f'<div class="small">{care}</div>\n</body></html>\n'
    )


def _label(table: Table, copies: Sequence[int]) -> str:
    head = "".join(f"<th>{escape(name)}</th>" for name in ("shot", *_shown(table.head)))
    rows = []
    for cells, boxes in zip(table.rows, copies, strict=True):
        shown = "".join(f"<td>{escape(text)}</td>" for text in _shown(cells))
        ticks = '<span class="box"></span>' * boxes
        rows.append(f'<tr><td class="tick">{ticks}</td>{shown}</tr>')
    return (
        f"<section><h2>{escape(table.caption)}</h2><table><thead><tr>{head}</tr></thead>"
        f"<tbody>{''.join(rows)}</tbody></table></section>"
    )


def _shown(cells: Sequence[Cell]) -> list[str]:
    """The cells without the count, which the boxes show."""
    return [main_of(cell) for i, cell in enumerate(cells) if i != len(cells) - 2]
