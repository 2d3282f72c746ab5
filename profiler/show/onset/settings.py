"""What to set, as an answer."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from profiler import standards
from profiler.exposure.wording import format_f_number, format_time
from profiler.onset.corrections import Correction, nearest_nd
from profiler.onset.guards import Guard
from profiler.onset.lens import LensUse
from profiler.onset.metered import Metered
from profiler.onset.settings import Settings, Setup
from profiler.records import opposite
from profiler.show import words
from profiler.show.answer import Answer, Note, facts
from profiler.show.channels import colour_name
from profiler.show.doubts import coarse_notes, doubt_notes, with_doubt
from profiler.show.marks import Picture
from profiler.show.meter import UNSEEN, meter_sentence, offset_words
from profiler.show.onset.marks import dial_strip
from profiler.show.onset.ratio import FLASH_ALONE, turned, turned_ways

_CLOSE_EV: Final = 0.05
_OFF_EV: Final = 0.5


def settings_answer(found: Settings) -> Answer:
    """Return what to set on meter or camera, what that leaves over, where the grey lands."""
    setup = found.setup
    return Answer(
        headline=with_doubt(headline(found), found.flags),
        lead=(meter_sentence(found.dial, found.iso),),
        figures=facts(
            [
                ("offset", offset_words(found.dial)),
                ("camera", left_words(setup)),
                ("flash", _flash(found)),
                ("grey from clip", words.stops(setup.below_clip_ev, "below", "above")),
                ("grey from aim", from_aim_words(setup, found.aim_stops)),
                ("grey from floor", floor_words(setup)),
            ]
        ),
        rows=facts(
            [
                ("reading", reading_words(found.metered, f"{found.mode}, {found.light}")),
                ("lens", lens_words(found.lens)),
                ("filters and losses", correction_words(found.corrections, found.lost_ev)),
                *_others(found),
            ]
        ),
        notes=(
            *doubt_notes(found.flags),
            *coarse_notes([found.metered.coarse]),
            *_beyond(found),
            *guard_notes(found.guards),
            *_flash_note(found),
        ),
        closing=(words.INTERVALS,),
        pictures=_pictures(found),
    )


def _pictures(found: Settings) -> tuple[Picture, ...]:
    """The dial that was found, unless nothing is to be set by it."""
    setup = found.setup
    if not found.found or setup.below_clip_ev.lower_bound:
        return ()
    strip = dial_strip(
        setup.setting,
        setup.left_ev,
        found.time_rule,
        found.marks,
        by_time=found.found == "time",
    )
    return () if strip is None else (strip,)


def headline(found: Settings) -> str:
    """Return what to set on the camera and where the grey lands with it."""
    setup = found.setup
    first = f" ({colour_name(found.first_to_clip)} first)"
    where = f"the grey lands {words.stops(setup.below_clip_ev, 'below clip', 'above clip')}{first}"
    camera = f"{setup.setting.label} at ISO {setup.iso}"
    if setup.below_clip_ev.lower_bound:
        return f"Shoot brighter frames first, for {UNSEEN}: with {camera} {where}."
    if found.beyond is not None:
        filtered = f"ND {found.beyond.nd_density:.1f}"
        return (
            f"{camera} is beyond most {_dial(found)}: put on {filtered} and set "
            f"{found.beyond.setting.label}."
        )
    if turns_flash(found):
        way = turned(found.turn_flash_ev or 0.0)
        return f"Set {camera} and turn the flash {way}: as it is, {where}."
    if abs(setup.left_ev) > _OFF_EV:
        rest = words.amount(setup.left_ev, "too little light", "too much light")
        return f"{camera} gives {rest}: {where}."
    if words.belongs_in_headline(setup.left_ev):
        rest = words.amount(setup.left_ev, "still to give", "too much")
        return f"Set {camera}, which leaves {rest}: {where}."
    return f"Set {camera}: {where}."


def _dial(found: Settings) -> str:
    """The dial that a setting is beyond, with where it mostly ends."""
    if found.found == "time":
        return f"shutters ({format_time(standards.SHORTEST_TIME_S)})"
    return f"lenses ({format_f_number(standards.SMALLEST_F_NUMBER)})"


def _beyond(found: Settings) -> tuple[Note, ...]:
    """What brings a setting back to the dials that there are."""
    beyond = found.beyond
    if beyond is None or found.setup.below_clip_ev.lower_bound:
        return ()
    over = words.amount(beyond.over_ev, "beyond", "beyond")
    nd = f"ND {beyond.nd_density:.1f} ({words.amount(beyond.nd_stops, 'less', 'less')} light)"
    text = f"{found.setup.setting.label} is {over} most {_dial(found)}: {nd} brings it back"
    other = "" if beyond.iso is None else f", and so does ISO {beyond.iso}"
    return (Note(text=f"{text}{other}.", warns=True),)


def turns_flash(found: Settings) -> bool:
    """Return whether the flash is to be turned for the aperture that was asked for."""
    if found.turn_flash_ev is None or found.setup.below_clip_ev.lower_bound:
        return False
    return words.is_spoken(found.turn_flash_ev, found.setup.from_aim_ev)


def _flash(found: Settings) -> str:
    return turned_ways(found.turn_flash_ev or 0.0) if turns_flash(found) else ""


def _flash_note(found: Settings) -> tuple[Note, ...]:
    return (Note(text=FLASH_ALONE),) if turns_flash(found) else ()


def reading_words(metered: Metered, taken: str) -> str:
    """Return a reading as typed and how it was taken; both averages of several."""
    text = f"{', '.join(metered.texts)} by {taken}"
    if len(metered.texts) > 1:
        text += f"; {average_words(metered)}"
    if metered.linearity_basis:
        text += f"; {metered.linearity_basis}, by the meter's linearity"
    return text


def average_words(metered: Metered) -> str:
    """Return which of the averages of several readings counts, and both of them."""
    return (
        f"averaged as {metered.average} (as stops EV {metered.as_stops_ev100:.1f}, "
        f"as light EV {metered.as_light_ev100:.1f} at ISO 100)"
    )


def lens_words(lens: LensUse | None) -> str:
    """Return what another lens gives beside the calibrated one; empty for that itself."""
    if lens is None:
        return ""
    light = words.stops(lens.light_ev, "more", "less")
    at = "its light loss, its iris not measured at this mark"
    if lens.aperture is not None:
        at = f"measured at {format_f_number(lens.aperture)}"
    return f"{lens.model}: {light} light than the calibrated lens ({at})"


def correction_words(corrections: Iterable[Correction], lost_ev: float) -> str:
    """Return what filters and the like take, each and together; empty where there are none."""
    all_of_them = list(corrections)
    each = ", ".join(f"{c.text} ({c.stops:.1f})" for c in all_of_them)
    if len(all_of_them) == 1:
        each = all_of_them[0].text
    return f"{each}: {words.amount(lost_ev, 'lost', 'gained')}, taken as exact" if each else ""


def left_words(setup: Setup) -> str:
    """Return what rounding to marks leaves over, where it is worth a word; a surplus as ND too."""
    label = setup.setting.label
    if setup.from_aim_ev.lower_bound:
        return f"{label}; how far that is from the aim isn't known, for clip was not seen"
    if not words.is_spoken(setup.left_ev, setup.from_aim_ev):
        return f"{label}, on the aim within the uncertainty"
    text = f"{label} leaves {words.amount(setup.left_ev, 'still to give', 'too much')}"
    if setup.left_ev < -_OFF_EV:
        density, over = nearest_nd(-setup.left_ev)
        text += f"; ND {density:.1f} takes that off"
        if words.is_spoken(over, setup.from_aim_ev):
            text += f" but for {words.amount(-over, 'still to give', 'too much')}"
    return text


def from_aim_words(setup: Setup, aim_stops: float) -> str:
    """Return how far the grey is from the aim.

    Where clip was not seen it lies below by that much at least.
    """
    aim = f"the aim, which is {aim_stops:.2f} stops below clip"
    found = setup.from_aim_ev
    if abs(found.value) < _CLOSE_EV and not found.lower_bound:
        return f"on {aim} (± {words.half_tenths(found)})"
    return f"{words.stops(opposite(found), 'below', 'above')} {aim}"


def floor_words(setup: Setup) -> str:
    """Return how far the grey is from the floor."""
    if setup.above_floor_ev is None:
        return f"{words.UNKNOWN}: there are no noise figures for this label"
    return f"{words.stops(setup.above_floor_ev, 'above', 'below')} SNR 10"


def guard_notes(guards: Iterable[Guard]) -> tuple[Note, ...]:
    """Return what to look out for."""
    return tuple(Note(text=guard.text, warns=guard.warns) for guard in guards)


def _others(found: Settings) -> list[tuple[str, str]]:
    """The same at other apertures, or what other ISO labels would leave over."""
    if any(other.iso != found.iso for other in found.others):
        shown = ", ".join(
            f"ISO {o.iso}: {words.amount(o.left_ev, 'still to give', 'too much')}"
            for o in found.others
        )
        return [("other labels", shown)]
    alike = ", ".join(f"{o.setting.label}{_rest(o, found.setup)}" for o in found.others)
    return [("alike", alike)]


def _rest(setup: Setup, chosen: Setup) -> str:
    """What a setting alike leaves over, where that is something else than the chosen one does."""
    differs = abs(setup.left_ev - chosen.left_ev) >= _CLOSE_EV
    if not differs or not words.is_spoken(setup.left_ev, setup.from_aim_ev):
        return ""
    return f" ({words.amount(setup.left_ev, 'short', 'over')})"
