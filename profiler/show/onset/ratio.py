"""How lights stand to the key as an answer: ratio both ways, sum, which to turn by how much."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from profiler.exposure.wording import format_f_tenths
from profiler.records import Estimate
from profiler.show import words
from profiler.show.answer import Answer, Table, facts
from profiler.show.doubts import coarse_notes

if TYPE_CHECKING:
    from profiler.onset.ratio import Lamp, Ratio

FLASH_ALONE: Final = "The power turns the flash alone: ambient light stays as it is"


def turned(change_ev: float) -> str:
    """Return `up by 1.3 stops`, `down by 0.4 stop`; empty where nothing is to be turned."""
    size = words.amount(change_ev, "", "").strip()
    if size == "nothing":
        return ""
    return f"{'up' if change_ev > 0.0 else 'down'} by {size}"


def turned_ways(change_ev: float) -> str:
    """Return a change of power with its factor and the distance that does the same.

    A lamp's light falls with the square of its distance, so d' = d 2^(-ev/2).
    """
    said = turned(change_ev)
    if not said:
        return "leave it as it is"
    power, distance = math.exp2(change_ev), math.exp2(-0.5 * change_ev)
    return f"turn it {said} ({power:.2g} x the power), or place it at {distance:.2f} x its distance"


_ONE_AND_KEY = 2


def ratio_answer(found: Ratio) -> Answer:
    """Return the lighting ratio said both ways, what all lights sum up to, and what to turn."""
    both, plain = found.lighting_ratio, found.key_to_fill
    other = "fill" if len(found.lamps) == _ONE_AND_KEY else "others"
    ratio = (
        f"Lighting ratio {both.value:.1f}:1 as (key + {other}) : {other}; "
        f"key : {other} is {plain.value:.1f}:1."
    )
    turning = turning_words(found)
    return Answer(
        headline=turning or ratio,
        lead=(ratio,) if turning else (),
        figures=facts(
            [
                (f"(key + {other}) : {other}", f"{_span(both)}, lit side to shadow side"),
                (f"key : {other}", _span(plain)),
                (f"key over {other}", words.stops(found.key_over_fill_ev, "over", "under")),
                ("lit over shadow", words.amount(found.lit_over_shadow_ev, "over", "under")),
                ("together", _total(found)),
            ]
        ),
        tables=(_lamps(found),) if len(found.lamps) > _ONE_AND_KEY or turning else (),
        notes=coarse_notes([found.coarse]),
        closing=(f"Each light was read alone, at the subject. {words.INTERVALS}",),
    )


def turning_words(found: Ratio) -> str:
    """Return which lights to turn, in one sentence; empty where nothing was wanted or is left."""
    turns = [(lamp.name, turned(lamp.turn_ev)) for lamp in found.lamps]
    said = [f"{name} {way}" for name, way in turns if way]
    if not said and found.aperture:
        return f"Nothing to turn: together they are right for {_at(found)}."
    if not said:
        return f"Nothing to turn: {words.listed(list(found.wanted))} as wanted." * bool(
            found.wanted
        )
    stays = [name for name, way in turns if not way]
    text = f"Turn {', '.join(said)}"
    if stays:
        text += f"; {' and '.join(stays)} {'stays' if len(stays) == 1 else 'stay'}"
    return f"{text}; that is for {_at(found)}." if found.aperture else f"{text}."


def _at(found: Ratio) -> str:
    return f"{found.aperture} at ISO {found.iso}"


def _total(found: Ratio) -> str:
    """All lights together, as the meter would show them."""
    total = found.total_ev100
    half = words.half_tenths(total)
    if not found.flash:
        return f"EV {total.value:.1f} at ISO 100 (± {half} stop)"
    scale = math.log2(found.iso / 100.0)
    return (
        f"{format_f_tenths(2.0 ** (0.5 * (total.value + scale)))} at ISO {found.iso} "
        f"(± {half} stop)"
    )


def _lamps(found: Ratio) -> Table:
    rows = tuple(
        (lamp.name, lamp.reading, _beside(lamp), f"{100.0 * lamp.share:.0f} %", _turn(lamp))
        for lamp in found.lamps
    )
    return Table(
        caption="Each light alone",
        head=("light", "reading", "beside the key", "of the sum", "turn it"),
        rows=rows,
        numbers=(3,),
    )


def _beside(lamp: Lamp) -> str:
    apart = lamp.over_key_ev
    if apart is None:
        return ""
    if words.amount(apart.value) == "nothing":
        return f"equal (± {words.half_tenths(apart)} stop)"
    return words.stops(apart, "over", "under")


def _turn(lamp: Lamp) -> str:
    return turned(lamp.turn_ev) or "stays"


def _span(ratio: Estimate) -> str:
    """Return a ratio with its interval: `5.0:1 (4.6 to 5.5)`."""
    return f"{ratio.value:.1f}:1 ({ratio.low:.1f} to {ratio.high:.1f})"
