"""Settings in words: what to set, what it leaves over, where the grey lands."""

from __future__ import annotations

from profiler.onset.corrections import nearest_nd
from profiler.onset.dial import MeterDial
from profiler.onset.settings import Settings, Setup
from profiler.show.channels import colour_name
from profiler.show.onset.text import (
    INTERVALS,
    amount,
    facts,
    guard_lines,
    margin,
    stops,
)
from profiler.show.words import speed

_CLOSE_EV = 0.05
_OFF_EV = 0.5


def settings_words(answer: Settings, first_to_clip: str = "") -> str:
    """Return the answer in one line, the meter's dial, then the detail."""
    setup = answer.setup
    lines = [headline(answer, first_to_clip), "", *meter_lines(answer), ""]
    rows = [
        ("reading", reading_words(answer)),
        ("offset", offset_words(answer.dial)),
        ("corrections", correction_words(answer)),
        ("camera", left_words(setup)),
        ("grey from aim", from_aim_words(setup, answer.aim_stops)),
        ("grey from clip", stops(setup.below_clip_ev, "below", "above")),
        ("grey from floor", floor_words(setup)),
        ("alike", ", ".join(f"{o.setting.label}{_rest(o, setup)}" for o in answer.others)),
    ]
    if answer.others and any(other.iso != answer.iso for other in answer.others):
        shown = ", ".join(
            f"ISO {o.iso}: {amount(o.left_ev, 'still to give', 'too much')}" for o in answer.others
        )
        rows[-1] = ("other labels", shown)
    lines += facts(rows)
    if answer.guards:
        lines += ["", *guard_lines(answer.guards)]
    return "\n".join([*lines, "", INTERVALS])


def headline(answer: Settings, first_to_clip: str) -> str:
    """Return what to set on the camera and where the grey lands with it."""
    setup = answer.setup
    first = f" ({colour_name(first_to_clip)} first)" if first_to_clip else ""
    where = stops(setup.below_clip_ev, "below clip", "above clip")
    camera = f"{setup.setting.label} at ISO {setup.iso}"
    if abs(setup.left_ev) > _OFF_EV:
        rest = amount(setup.left_ev, "too little light", "too much light")
        return f"{camera} gives {rest}: the grey lands {where}{first}."
    return f"Set {camera}: the grey lands {where}{first}."


def meter_lines(answer: Settings) -> list[str]:
    """Return the two ways to tell the meter, of which only one may be used."""
    dial = answer.dial
    bound = ", for clip was not seen" if dial.ei.lower_bound else ""
    top = amount(dial.ei_left_ev)
    rest = "" if top == "nothing" else f" and give {top} on top"
    steps = amount(dial.compensation_ev)
    compensation = (
        "leave it without compensation"
        if steps == "nothing"
        else f"set its compensation to {abs(dial.compensation_ev):.1f} so that it asks for {steps}"
    )
    return [
        f"On the meter either set EI {dial.ei_mark:g}{rest} (exact {speed(dial.ei)}{bound}),",
        f"or leave it at ISO {answer.iso} and {compensation}. Never both.",
    ]


def offset_words(dial: MeterDial) -> str:
    """Return the offset, its sign in words."""
    offset = dial.offset_ev
    if offset.low <= 0.0 <= offset.high and not offset.lower_bound:
        return f"{margin(offset)} stop: the meter and this body agree within the uncertainty"
    return f"give {stops(offset, 'more', 'less')} than the meter says"


def reading_words(answer: Settings) -> str:
    """Return the reading as typed, with mode and light; both averages of several."""
    metered = answer.metered
    text = f"{', '.join(metered.texts)} by {answer.mode}, {answer.light}"
    if len(metered.texts) > 1:
        text += (
            f"; averaged as {metered.average} (as stops EV {metered.as_stops_ev100:.1f}, "
            f"as light EV {metered.as_light_ev100:.1f} at ISO 100)"
        )
    return text


def correction_words(answer: Settings) -> str:
    """Return what filters and the like take, each and together."""
    if not answer.corrections:
        return ""
    each = ", ".join(f"{c.text} ({c.stops:.1f})" for c in answer.corrections)
    return f"{each}: {amount(answer.lost_ev, 'lost', 'gained')}, taken as exact"


def left_words(setup: Setup) -> str:
    """Return what rounding to marks leaves over; a surplus as ND filter too."""
    rest = amount(setup.left_ev, "still to give", "too much")
    text = f"{setup.setting.label} leaves {'nothing over' if rest == 'nothing' else rest}"
    if setup.left_ev < -0.5:
        density, over = nearest_nd(-setup.left_ev)
        text += f"; ND {density:.1f} takes that off"
        if abs(over) >= _CLOSE_EV:
            text += f" but for {amount(-over, 'still to give', 'too much')}"
    return text


def from_aim_words(setup: Setup, aim_stops: float) -> str:
    """Return how far the grey is from the aim."""
    aim = f"the aim, which is {aim_stops:.2f} stops below clip"
    distance = setup.from_aim_ev
    if abs(distance.value) < _CLOSE_EV:
        return f"on {aim} (± {max(0.5 * (distance.high - distance.low), 0.1):.1f})"
    return f"{stops(distance, 'above', 'below')} {aim}"


def floor_words(setup: Setup) -> str:
    """Return how far the grey is from the floor."""
    if setup.above_floor_ev is None:
        return "not known: the profile has no noise figures"
    return f"{stops(setup.above_floor_ev, 'above', 'below')} SNR 10"


def _rest(setup: Setup, chosen: Setup) -> str:
    """What a setting alike leaves over, where that is something else than the chosen one does."""
    rest = amount(setup.left_ev, "short", "over")
    return "" if abs(setup.left_ev - chosen.left_ev) < _CLOSE_EV else f" ({rest})"
