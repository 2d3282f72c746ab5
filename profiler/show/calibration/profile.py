"""A whole profile as an answer: who was measured, each result, how they compare."""

from __future__ import annotations

from profiler.exposure.stops import nearest_time_mark
from profiler.exposure.wording import format_ev
from profiler.results import ProfileData
from profiler.show import words
from profiler.show.answer import Answer, Note, facts
from profiler.show.calibration import tables
from profiler.show.calibration.identity import identity, title
from profiler.show.calibration.result import result_answer
from profiler.show.calibration.steps import step_words
from profiler.show.terminal import printed

_ODD_EV = 0.03


def describe(
    profile: ProfileData, *, budget: bool = False, details: bool = True, width: int | None = None
) -> str:
    """Return all results as text, wrapped to a width in characters; budgets on demand.

    details: with channels, noise, and what each figure rests on.
    """
    return printed(profile_answer(profile, budget=budget, details=details), width)


def profile_answer(profile: ProfileData, *, budget: bool = False, details: bool = True) -> Answer:
    """Return who was measured, an answer for each result, what sets them apart, what would help."""
    compared = (
        *([tables.mode_table(profile)] if profile.modes else []),
        *([tables.iso_table(profile)] if profile.iso_steps else []),
    )
    return Answer(
        headline=title(profile),
        figures=facts(identity(profile)),
        tables=compared,
        notes=tuple(Note(text=text, warns=True) for text in _shutter(profile)),
        parts=tuple(
            result_answer(result, budget=budget, details=details) for result in profile.results
        ),
        steps=step_words(profile),
        closing=(words.INTERVALS,),
    )


def _shutter(profile: ProfileData) -> list[str]:
    """The shutter's deviations, where one stands out of its uncertainty."""
    odd = [row for row in profile.shutter if abs(row.deviation_ev) > max(2.0 * row.u_ev, _ODD_EV)]
    if not odd:
        return []
    shown = ", ".join(
        f"{nearest_time_mark(row.time_s).label} {format_ev(row.deviation_ev)} (u {row.u_ev:.2f})"
        for row in odd
    )
    return [f"Shutter times off by more than their uncertainty: {shown}"]
