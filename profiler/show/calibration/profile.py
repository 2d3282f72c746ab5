"""A whole profile as an answer: who was measured, each result, what sets them apart, what helps."""

from __future__ import annotations

from profiler.calibration.assemble.next_steps import NextStep, next_steps
from profiler.exposure.stops import nearest_time_mark
from profiler.exposure.wording import format_ev, format_f_number
from profiler.results import ProfileData
from profiler.show import words
from profiler.show.answer import Answer, Note, facts
from profiler.show.calibration import tables
from profiler.show.calibration.identity import identity, title
from profiler.show.calibration.result import result_answer
from profiler.show.terminal import printed


def step_words(profile: ProfileData) -> tuple[str, ...]:
    """Return at most three steps, each with half the 95 % interval before and after it."""
    result, steps = next_steps(profile.results)
    if result is None:
        return ()
    label = f" at ISO {result.iso}" if len(profile.results) > 1 else ""
    first = f"To know the offset{label} better next time, "
    return tuple(
        f"{'Then ' if i else first}{_what(step)} ({_cost(step)}): "
        f"± {step.before_ev:.2f} becomes ± {step.after_ev:.2f} stop."
        for i, step in enumerate(steps)
    )


def _what(step: NextStep) -> str:
    """Return what to do, as the end of a sentence."""
    match step.kind:
        case "readings":
            more = f"{_number(step.more)} more times"
            return f"read the meter {more}, some of them after the last frame"
        case "display":
            steps = f"let the meter show steps of {step.to_ev:g} EV"
            return f"{steps}: hundredths, or lx or cd/m2 in three figures"
        case "aperture":
            only = f"work at {format_f_number(step.aperture)} only, as calibrated"
            return f"{only}, so that the iris's own error cancels"
        case "shutter":
            return "shoot the series with an electronic shutter, in light that doesn't pulse"
        case "frames":
            return f"shoot {words.count(step.more, 'more frame')} below clip"
        case "card":
            return f"use a card whose reflectance is stated to ± {step.to_ev:g} EV, or read by spot"
        case "black":
            return f"add {words.count(step.more, 'lens-cap frame')} per ISO label"
        case "gradient":
            return "shoot again with the card lit evenly and the meter read at the patch"


def _cost(step: NextStep) -> str:
    if step.minutes > 0.0:
        return f"about {max(1, round(step.minutes))} min"
    return {
        "aperture": "nothing to shoot; other apertures keep the wider interval",
        "card": "a better card",
    }.get(step.kind, "nothing to shoot, but a display that does")


def _number(count: int) -> str:
    return {2: "two", 3: "three", 4: "four"}.get(count, f"{count}")


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
