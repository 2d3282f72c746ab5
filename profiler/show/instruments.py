"""A meter measured as an instrument, in words."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from profiler.show import words
from profiler.show.answer import Answer, Note, Table, facts

if TYPE_CHECKING:
    from collections.abc import Sequence

    from profiler.calibration.instruments.meter import (
        DifferenceLevel,
        MeterCheck,
        MeterLevel,
        MetersCompared,
    )
    from profiler.records import Meter

_CLOSING = (
    "The mean over the levels isn't an error of the meter: it belongs to the pair of body and "
    "meter, in the profile's offset.",
    words.INTERVALS,
)


def meter_answer(found: MeterCheck) -> Answer:
    """Return how a meter strays over its range, how it repeats itself, and its display step."""
    repeat = found.repeatability
    return Answer(
        headline=_headline(found),
        figures=facts(
            [
                ("range", _range(found.levels)),
                (
                    "repeatability",
                    f"{repeat.value_ev:.3f} EV ({repeat.low_ev:.3f} to {repeat.high_ev:.3f}), "
                    f"standard deviation of one reading, from {repeat.dof} repeats",
                ),
                (
                    "display step",
                    f"{found.step_ev:.2g} EV, "
                    + ("as stated" if found.step_told else _as_typed(found)),
                ),
                ("as the meter file holds it", f"± {found.meter.repeatability_ev:.2f} EV"),
            ]
        ),
        tables=(
            Table(
                caption="What the meter shows beyond its own mean",
                head=("shown, EV at ISO 100", "more than its mean, EV", "readings"),
                rows=tuple(
                    (
                        f"{level.shown_ev100:.2f}",
                        words.signed(level.deviation_ev),
                        ", ".join(level.readings),
                    )
                    for level in found.levels
                ),
                numbers=(0,),
            ),
        ),
        rows=facts([("shutter", _shutter(found)), ("sensor", _straight(found))]),
        notes=tuple(_notes(found)),
        closing=_CLOSING,
    )


def meters_answer(found: MetersCompared) -> Answer:
    """Return how two meters differ over level."""
    one, other = meter_name(found.one.meter), meter_name(found.other.meter)
    if one == other:
        one, other = "the first meter", "the second"
    low, high = _ends([level.difference_ev.value for level in found.levels])
    mean = words.stops(found.mean_ev, "more", "less")
    return Answer(
        headline=f"{_capital(one)} shows {mean} than {other} on average; over "
        f"{_range(found.levels)} the difference runs from {words.with_sign(low, 2)} to "
        f"{words.with_sign(high, 2)} EV"
        + (", more than chance." if found.differ else ", no more than the readings' own scatter."),
        tables=(
            Table(
                caption=f"{_capital(one)} less {other}",
                head=("shown, EV at ISO 100", "difference, EV"),
                rows=tuple(
                    (f"{level.shown_ev100:.2f}", words.signed(level.difference_ev))
                    for level in found.levels
                ),
                numbers=(0,),
            ),
        ),
        closing=(
            "Both read the light of the same frames, so that body and shutter drop out.",
            words.INTERVALS,
        ),
    )


def meter_name(meter: Meter) -> str:
    """Return a meter's name, or what it is."""
    return f"{meter.make} {meter.model}".strip() or "the meter"


def file_notes(found: MeterCheck, body: str, day: str) -> list[str]:
    """Return the comments at the head of a meter file: where its figures come from."""
    repeat = found.repeatability
    frames = sum(len(level.frames) for level in found.levels)
    return [
        f"Measured by greytare on {day} with {body or 'an unnamed body'}: "
        f"{words.count(len(found.levels), 'light level')}, {words.count(frames, 'frame')}.",
        f"repeatability_ev: limits of one reading, {repeat.value_ev:.3f} EV standard deviation "
        f"({repeat.low_ev:.3f} to {repeat.high_ev:.3f}), widened for {repeat.dof} repeats.",
        "linearity: what the meter shows beyond its own mean; readings are corrected by it.",
    ]


def _headline(found: MeterCheck) -> str:
    worst = max(found.levels, key=lambda level: abs(level.deviation_ev.value))
    name = _capital(meter_name(found.meter))
    over = f"over {_range(found.levels)}"
    if not found.strays:
        most = max(max(-lv.deviation_ev.low, lv.deviation_ev.high) for lv in found.levels)
        return f"{name} is straight within ± {most:.2f} EV {over}."
    way = "more" if worst.deviation_ev.value > 0.0 else "less"
    return (
        f"{name} strays by up to {words.margin(worst.deviation_ev)} EV {over}: it shows {way} than "
        f"its own mean at EV {worst.shown_ev100:.1f}."
    )


def _notes(found: MeterCheck) -> list[Note]:
    notes = []
    if found.left_out:
        notes.append(
            Note(
                text=f"{words.count(len(found.left_out), 'frame')} left out, near black or clip: "
                f"{', '.join(found.left_out[:4])}{' ...' if len(found.left_out) > 4 else ''}"
            )
        )
    gaps = [
        (a.shown_ev100, b.shown_ev100)
        for a, b in pairwise(found.levels)
        if b.shown_ev100 - a.shown_ev100 > 2.0
    ]
    notes += [
        Note(text=f"no level between EV {a:.1f} and {b:.1f}: what it does there isn't known")
        for a, b in gaps
    ]
    return notes


def _shutter(found: MeterCheck) -> str:
    if found.frame_dof is None:
        return f"electronic, taken as {found.frame_scatter_ev:g} EV from frame to frame"
    return (
        f"{found.frame_scatter_ev:.3f} EV from frame to frame, from "
        f"{words.count(int(found.frame_dof), 'repeat')}; taken off"
    )


def _straight(found: MeterCheck) -> str:
    return f"straight within {found.straight_percent:.1f} % at clip, by its channels"


def _as_typed(found: MeterCheck) -> str:
    count = sum(len(level.readings) for level in found.levels)
    return f"as {words.count(count, 'reading')} tell"


def _range(levels: Sequence[MeterLevel | DifferenceLevel]) -> str:
    low, high = _ends([level.shown_ev100 for level in levels])
    return f"EV {low:.1f} to {high:.1f}"


def _ends(values: list[float]) -> tuple[float, float]:
    return min(values), max(values)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
