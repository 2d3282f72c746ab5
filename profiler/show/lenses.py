"""The lenses of a body, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from profiler.exposure.wording import format_f_number
from profiler.show import words
from profiler.show.answer import Answer, Note, Table, facts

if TYPE_CHECKING:
    from profiler.results import LensesData, LensLight, LensMark

_STEADY_EV = 0.02
_EVEN_EV = 0.01


def lenses_answer(found: LensesData) -> Answer:
    """Return what each lens loses against the calibrated one, and how its iris keeps its marks."""
    calibrated = found.calibrated.model or "the calibrated lens"
    against = f"{calibrated} at {format_f_number(found.calibrated_aperture)}"
    others = [lens for lens in found.lenses if lens.model != found.calibrated.model]
    return Answer(
        headline=_headline(others, calibrated),
        figures=facts((_name(lens), _loss(lens)) for lens in others),
        tables=tuple(_table(lens, found) for lens in found.lenses),
        rows=facts(
            [
                ("against", against),
                ("shutter", f"{found.frame_scatter_ev:.3f} EV from frame to frame, by repeats"),
                (
                    "light",
                    f"changed by {words.signed(found.drift_ev)} EV over the series; taken off",
                ),
            ]
        ),
        notes=tuple(_notes(found)),
        closing=(
            "Light is by the marks: what this lens at this mark gives beyond the calibrated lens "
            "at its own.",
            "A patch in the middle of the frame shows little of a lens's vignetting.",
            words.INTERVALS,
        ),
    )


def _headline(others: list[LensLight], calibrated: str) -> str:
    if not others:
        return f"{calibrated} was measured at other marks of its own; no other lens was."
    each = "; ".join(f"{_name(lens)} {_loss(lens)}" for lens in others)
    return f"Against {calibrated}: {each}."


def _loss(lens: LensLight) -> str:
    loss = words.stops(lens.loss_ev, "less", "more")
    return f"{loss} light at {format_f_number(lens.at_aperture)}"


def _table(lens: LensLight, found: LensesData) -> Table:
    return Table(
        caption=_name(lens),
        head=("mark", "light, EV", "iris beside its mark, EV", "across the patch, EV", "frames"),
        rows=tuple(
            (
                format_f_number(mark.aperture),
                _light(lens, mark, found),
                "0" if mark.aperture == lens.at_aperture else words.signed(mark.iris_ev),
                _vignetting(mark),
                str(mark.frames),
            )
            for mark in lens.marks
        ),
        numbers=(4,),
    )


def _light(lens: LensLight, mark: LensMark, found: LensesData) -> str:
    if lens.model == found.calibrated.model and mark.aperture == found.calibrated_aperture:
        return "0 (calibrated)"
    return words.signed(mark.light_ev)


def _vignetting(mark: LensMark) -> str:
    if mark.across_ev is None or mark.down_ev is None:
        return words.UNKNOWN
    across, down = (
        "even" if max(abs(each.low), abs(each.high)) < _EVEN_EV else words.signed(each)
        for each in (mark.across_ev, mark.down_ev)
    )
    return across if across == down else f"{across} across, {down} down"


def _notes(found: LensesData) -> list[Note]:
    notes = []
    if found.drift_ev.high - found.drift_ev.low > 4.0 * _STEADY_EV:
        notes.append(
            Note(
                text="nothing tells whether the light changed over the series: shoot the "
                "calibrated lens first and last",
                warns=True,
            )
        )
    return notes


def _name(lens: LensLight) -> str:
    return lens.model or "a lens without a name"
