"""What a student sees of a series with hidden faults, and what becomes of an answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from profiler.errors import ExposureError, GreytareError
from profiler.show.hidden import CLUES, judged_answer, task_answer
from profiler.simulate.hidden import DIFFICULTIES, KINDS, Difficulty, Hidden, hide, judge

if TYPE_CHECKING:
    from profiler.show.answer import Answer

_SIZE: Final = (96, 64)


@dataclass(frozen=True, kw_only=True)
class Task:
    """A series as it was measured: the answer without flags and with them, and the plots."""

    plain: Answer
    flagged: Answer
    plot: dict[str, Any] | None


@dataclass(frozen=True, kw_only=True)
class Choice:
    """One line of the list to answer from."""

    name: str
    label: str
    unit: str
    sizes: tuple[float, ...]
    said: float | None


def task(seed: int, difficulty: Difficulty) -> Task:
    """Return what measuring and fitting a hidden series gives; nothing of it tells the truth."""
    from profiler.calibration import pipeline
    from profiler.show.answer import Answer
    from profiler.simulate.hidden import hidden_series
    from profiler.simulate.memory import measure_in_memory
    from profiler.web.plot import plot_of

    measurement, sheet = measure_in_memory(hidden_series(hide(seed, difficulty), size=_SIZE))
    try:
        profile = pipeline.fit(measurement, sheet, light="daylight")
    except GreytareError as error:
        refused = Answer(headline=str(error))
        return Task(plain=refused, flagged=refused, plot=None)
    return Task(
        plain=task_answer(profile, measurement.frames, with_flags=False),
        flagged=task_answer(profile, measurement.frames, with_flags=True),
        plot=plot_of(profile.results[0]),
    )


def read_difficulty(params: Mapping[str, str]) -> Difficulty:
    """Return the difficulty that was chosen, the middle one where none was."""
    typed = params.get("difficulty", "middle")
    for each in DIFFICULTIES:
        if typed == each:
            return each
    raise ExposureError(
        f"there is no difficulty {typed[:40]!r}",
        "",
        f"Choose {', '.join(DIFFICULTIES)}",
        "difficulty",
    )


def read_said(params: Mapping[str, str]) -> dict[str, float]:
    """Return fault -> size of what was said; ExposureError for a size that isn't on the list.

    A field "size-NAME" holds the size, empty for faults that weren't named.
    """
    said = {}
    for name, kind in KINDS.items():
        typed = params.get(f"size-{name}", "")
        if not typed:
            continue
        sizes = {f"{size:g}": size for size in kind.choices}
        if typed not in sizes:
            raise ExposureError(
                f"{typed[:40]!r} isn't a size of the list", CLUES[name].name, "Choose one of it"
            )
        said[name] = sizes[typed]
    return said


def choices(said: Mapping[str, float]) -> tuple[Choice, ...]:
    """Return the list to answer from, with what was said already."""
    return tuple(
        Choice(
            name=name,
            label=CLUES[name].name,
            unit=CLUES[name].unit,
            sizes=kind.choices,
            said=said.get(name),
        )
        for name, kind in KINDS.items()
    )


def verdict(hidden: Hidden, said: Mapping[str, float]) -> Answer:
    """Return what was right, the truth, and how it could be seen."""
    return judged_answer(judge(hidden, said))
