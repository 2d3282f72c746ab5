"""What to set on the meter in words: the EI or the offset, one of the two."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from profiler.show import words

if TYPE_CHECKING:
    from profiler.onset.dial import MeterDial

UNSEEN: Final = "clip was not seen when the body was calibrated"
BRIGHTER: Final = "Shoot brighter frames, 1 to 2 stops over clip, and fit again"
"""What to do where no frame reached clip: a bound isn't an instruction."""


def meter_sentence(dial: MeterDial, iso: int) -> str:
    """Return the two ways to tell the meter, of which only one may be used."""
    if dial.offset_ev.lower_bound:
        return f"Set neither meter nor camera by this profile. {BRIGHTER}."
    asks = words.amount(dial.compensation_ev)
    compensation = (
        "leave it without compensation"
        if asks == "nothing"
        else f"set its compensation to {abs(dial.compensation_ev):.1f} so that it asks for {asks}"
    )
    return (
        f"On the meter either set {ei_words(dial)} "
        f"(exact {words.speed(dial.ei, in_brackets=True)}), "
        f"or leave it at ISO {iso} and {compensation}. Never both."
    )


def rest_ev(dial: MeterDial) -> float:
    """Return the exposure to give on top of the EI's mark, in EV; 0 where it isn't worth a word."""
    return dial.ei_left_ev if words.is_spoken(dial.ei_left_ev, dial.offset_ev) else 0.0


def ei_words(dial: MeterDial) -> str:
    """Return the EI as a mark, with what the mark leaves over where that is worth a word."""
    mark, remark = ei_cell(dial)
    return f"{mark}{', ' if dial.offset_ev.lower_bound else ' '}{remark}".rstrip()


def ei_cell(dial: MeterDial) -> tuple[str, str]:
    """Return the same in two: the mark, and what to do besides; a bound isn't to be set."""
    if dial.offset_ev.lower_bound:
        return f"at most EI {dial.ei_mark:g}", "not to be set: clip was not seen"
    rest = rest_ev(dial)
    return f"EI {dial.ei_mark:g}", f"and give {words.amount(rest)} on top" if rest else ""


def offset_cell(dial: MeterDial) -> tuple[str, str]:
    """Return the offset in EV with its sign, and what it asks for."""
    offset = dial.offset_ev
    number = f"{words.signed(offset)} EV"
    if offset.lower_bound:
        return number, f"{words.UNKNOWN}, {words.stops(offset, 'more', 'less')}"
    if words.agrees(offset):
        return number, "none needed: meter and body agree within the uncertainty"
    return number, f"give {_less_or_more(dial)}"


def _less_or_more(dial: MeterDial) -> str:
    """`0.3 stop less`, to as many digits as are certain."""
    size = words.size(dial.offset_ev)
    return f"{size} {words.unit_of(size)} {'more' if dial.offset_ev.value > 0.0 else 'less'}"


def offset_words(dial: MeterDial) -> str:
    """Return the offset, its sign in words."""
    offset = dial.offset_ev
    than = f"{words.stops(offset, 'more', 'less')} than the meter says"
    if offset.lower_bound:
        return f"{words.UNKNOWN}, for clip was not seen: {than}"
    if words.agrees(offset):
        return f"{words.signed(offset)} stop: the meter and this body agree within the uncertainty"
    return f"give {than}"


def disagreement(dial: MeterDial, iso: int) -> str:
    """Return in a sentence or two how the meter and a body differ, and what to do about it."""
    offset = dial.offset_ev
    if offset.lower_bound:
        return (
            f"At ISO {iso} no frame reached clip, so the offset isn't known: "
            f"{words.stops(offset, 'more', 'less')} than the meter says. {BRIGHTER}."
        )
    both = f"At ISO {iso} your meter and this body"
    if words.agrees(offset):
        return (
            f"{both} agree within the uncertainty ({words.signed(offset)} stop): "
            f"leave the meter at ISO {iso}, or set {ei_words(dial)}."
        )
    return (
        f"{both} disagree: give {_less_or_more(dial)} (± {words.half_words(offset)}), "
        f"or set the meter to {ei_words(dial)}."
    )
