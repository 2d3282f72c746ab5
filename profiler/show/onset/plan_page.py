"""What goes along with a plan: a page to print with boxes to tick, an empty sheet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from profiler.exposure.modes import is_flash
from profiler.files.sheet import EVERY_FILE, new_sheet
from profiler.onset.plan import Plan
from profiler.show.answer import Cell, main_of
from profiler.show.onset.plan import plan_answer
from profiler.show.templating import fill, plain

_TWO: Final = 2


def plan_page(plan: Plan, then: Sequence[str] = ()) -> str:
    """Return the page as HTML: promise, light, lines to fill in, list with boxes, steps, cautions.

    Prints on A4 as on Letter, in black and white.
    """
    answer = plan_answer(plan, then)
    several = "s" if plan.readings > _TWO else ""
    sides = (" before", " after") if plan.readings > 1 else ("",)
    return fill(
        "plan.html",
        style=plain("plan.css"),
        answer=answer,
        blanks=(
            *("body, lens", "meter", "date"),
            *(f"reading{several}{side}" for side in sides),
            "card, filters",
        ),
        labels=[
            (
                table.caption,
                ("shot", *_shown(table.head)),
                [
                    (frame.copies, _shown(cells))
                    for frame, cells in zip(label.frames, table.rows, strict=True)
                ],
            )
            for table, label in zip(answer.tables, plan.labels, strict=True)
        ],
    )


def _shown(cells: Sequence[Cell]) -> list[str]:
    """The cells without the count, which the boxes show."""
    return [main_of(cell) for i, cell in enumerate(cells) if i != len(cells) - 2]


def plan_sheet(plan: Plan) -> str:
    """Return the text of a sheet to be filled in: readings before and after, for every file.

    File names aren't known before the frames are shot; lens-cap frames get a row each then.
    """
    if is_flash(plan.mode):
        note = "flash is read for each frame: one row per file, as the list says"
        return new_sheet([{"file": EVERY_FILE, "mode": plan.mode, "note": note}])
    notes = [
        f"reading {i + 1} of {plan.readings}, "
        + ("before the first frame" if i < plan.readings_before else "after the last frame")
        for i in range(plan.readings)
    ]
    rows = [{"file": EVERY_FILE, "mode": plan.mode, "note": note} for note in notes]
    rows[0]["reading"] = plan.reading
    return new_sheet(rows)
