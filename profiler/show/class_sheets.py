"""Task sheets for the students of a class and the key for the teacher, as pages to print."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from profiler.show.hidden import CLUES, key_rows
from profiler.show.templating import fill
from profiler.simulate.hidden import KINDS, Hidden


@dataclass(frozen=True, kw_only=True)
class Pupil:
    """One student's task: the name of the folder, and what is hidden in it."""

    folder: str
    hidden: Hidden


def tasks_page(pupils: Sequence[Pupil]) -> str:
    """Return a page per student as one HTML file: what to do, and a list to tick.

    Nothing on it depends on what is hidden.
    """
    choices = tuple(
        (clue.name, clue.unit, tuple(f"{size:g}" for size in KINDS[name].choices))
        for name, clue in CLUES.items()
    )
    return fill(
        "class_tasks.html",
        folders=tuple(pupil.folder for pupil in pupils),
        choices=choices,
    )


def key_page(pupils: Sequence[Pupil], seed: int) -> str:
    """Return the key as one HTML file: every student's faults with sizes, then how they are seen.

    It holds the seeds, from which each series can be made again.
    """
    rows = tuple(
        (pupil.folder, pupil.hidden.seed, tuple(row[:2] for row in key_rows(pupil.hidden)))
        for pupil in pupils
    )
    hidden = {name for pupil in pupils for name, _ in pupil.hidden.faults}
    return fill(
        "class_key.html",
        rows=rows,
        seed=seed,
        difficulty=pupils[0].hidden.difficulty,
        clues=tuple(clue for name, clue in CLUES.items() if name in hidden),
    )
