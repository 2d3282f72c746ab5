"""Task sheets for the students of a class and the key for the teacher, as pages to print."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from profiler.records import FrameMeasure
from profiler.results import ProfileData
from profiler.show.answer import Table
from profiler.show.hidden import CLUES, frames_table, key_rows
from profiler.show.templating import fill
from profiler.simulate.hidden import KINDS, Hidden


@dataclass(frozen=True, kw_only=True)
class Pupil:
    """One student's task: the name of the folder, and what is hidden in it.

    profile, frames: as the series was measured; without them the sheet shows none of it.
    """

    folder: str
    hidden: Hidden
    profile: ProfileData | None = None
    frames: tuple[FrameMeasure, ...] = ()


def tasks_page(pupils: Sequence[Pupil]) -> str:
    """Return a page per student as one HTML file: plots and frames, and a list to tick.

    They show what was measured; nothing else on a page depends on what is hidden.
    """
    choices = tuple(
        (clue.name, clue.unit, tuple(f"{size:g}" for size in KINDS[name].choices))
        for name, clue in CLUES.items()
    )
    return fill(
        "class_tasks.html",
        pupils=tuple((pupil.folder, *_seen(pupil)) for pupil in pupils),
        choices=choices,
    )


def _seen(pupil: Pupil) -> tuple[str, Table | None]:
    """The picture of a series and the table of its frames, nothing where it can't be fitted."""
    from profiler.show.plots.export import figure_svg
    from profiler.show.plots.sheet import untold

    if pupil.profile is None:
        return "", None
    (result,) = pupil.profile.results
    words = "Level against placement, and how far each frame lies off the line"
    picture = figure_svg(untold(result), prefix=f"{pupil.folder}-", words=words)
    return picture, frames_table(result, pupil.frames)


def key_page(pupils: Sequence[Pupil], seed: int) -> str:
    """Return the key as one HTML file: every student's faults with sizes, then how they are seen.

    Beside each size stands the one of the list that is right.

    It holds the seeds, from which each series can be made again.
    """
    rows = tuple(
        (
            pupil.folder,
            pupil.hidden.seed,
            tuple(
                (what, size, f"{KINDS[name].nearest(true):g}")
                for (what, size, _), (name, true) in zip(
                    key_rows(pupil.hidden), pupil.hidden.faults, strict=True
                )
            ),
        )
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
