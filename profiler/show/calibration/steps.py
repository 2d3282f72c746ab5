"""What would sharpen a calibration most, in words: what it costs, what it gains."""

from __future__ import annotations

from profiler.calibration.assemble.next_steps import NextStep, next_steps
from profiler.exposure.wording import format_f_number
from profiler.results import ProfileData
from profiler.show import words


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
