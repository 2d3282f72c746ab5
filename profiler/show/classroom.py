"""How a class does, as an answer for its teacher."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from profiler.show.answer import Answer, Table
from profiler.show.hidden import CLUES, key_rows
from profiler.simulate.hidden import Hidden, Judged

_TOLD: Final = ("what was wrong", "found", "size right", "not there")


@dataclass(frozen=True, kw_only=True)
class Standing:
    """One student: whether the task was opened, with flags, and what the answer is worth.

    judged: None where there is no answer yet.
    """

    name: str
    hidden: Hidden
    here: bool
    flags: bool
    judged: tuple[Judged, ...] | None


def class_answer(standings: Sequence[Standing], *, told: bool) -> Answer:
    """Return who has answered; what is hidden stands in it only once it has been told."""
    answered = [each for each in standings if each.judged is not None]
    here = sum(each.here for each in standings)
    headline = f"{len(answered)} of {len(standings)} have answered, {here} are here."
    if told:
        right = sum(all(one.found for one in each.judged or ()) for each in answered)
        headline = f"{len(answered)} of {len(standings)} answered; {right} found all of theirs."
    return Answer(
        headline=headline,
        tables=(
            Table(
                caption="The class",
                head=("student", "state", *(_TOLD if told else ())),
                rows=tuple(_row(each, told=told) for each in standings),
                numbers=(3, 4, 5) if told else (),
            ),
        ),
        rows=(),
    )


def saved_rows(standings: Sequence[Standing]) -> list[dict[str, str]]:
    """Return a row per student for a file that the teacher keeps."""
    rows = []
    for each in standings:
        said = [j for j in each.judged or () if j.said_size is not None]
        counts = _counts(each)
        rows.append(
            {
                "student": each.name,
                "seed": str(each.hidden.seed),
                "difficulty": each.hidden.difficulty,
                "answered": "yes" if each.judged is not None else "no",
                "flags_shown": "yes" if each.flags else "no",
                "said": "; ".join(f"{CLUES[j.name].name}: {j.said_size:g}" for j in said),
                "true": _true(each),
                "found": counts[0],
                "size_right": counts[1],
                "not_there": counts[2],
            }
        )
    return rows


def _row(each: Standing, *, told: bool) -> tuple[str, ...]:
    state = "not here yet"
    if each.judged is not None:
        state = "answered, flags on" if each.flags else "answered"
    elif each.here:
        state = "looking, flags on" if each.flags else "looking"
    return (each.name, state, *((_true(each), *_counts(each)) if told else ()))


def _true(each: Standing) -> str:
    """What was wrong with a student's series, with sizes."""
    return "; ".join(f"{name}: {size}" for name, size, _ in key_rows(each.hidden))


def _counts(each: Standing) -> tuple[str, str, str]:
    """Found of all, sizes right, named but not there; dashes without an answer."""
    if each.judged is None:
        return "–", "–", "–"
    there = [one for one in each.judged if one.true_size is not None]
    found = [one for one in there if one.found]
    return (
        f"{len(found)} of {len(there)}",
        f"{sum(one.size_right for one in found)}",
        f"{sum(one.true_size is None for one in each.judged)}",
    )
