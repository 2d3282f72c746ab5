"""A placed scene as an answer: what is lost first, each spot, what the exposure may do."""

from __future__ import annotations

import math
from typing import Final

from profiler import standards
from profiler.exposure.wording import format_time
from profiler.onset.camera import Shutter
from profiler.onset.corrections import enough_nd
from profiler.onset.latitude import Latitude
from profiler.onset.place import AIM, METER, Placed
from profiler.onset.placement import Landing
from profiler.records import Estimate
from profiler.show import words
from profiler.show.answer import Answer, Note, Table, facts
from profiler.show.channels import colours, pooled
from profiler.show.doubts import coarse_notes, doubt_notes, with_doubt
from profiler.show.marks import Scale
from profiler.show.meter import BRIGHTER, UNSEEN
from profiler.show.onset.marks import scale_of
from profiler.show.onset.settings import average_words, guard_notes, lens_words

NEUTRAL: Final = (
    "Distances to clip hold for a spot as neutral as the calibration's grey card; a strong colour "
    "clips one channel sooner."
)
_RULES: Final = {AIM: "the key on the aim", METER: "as the meter asks for the key"}
DOUBT: Final = "In doubt: its 95 % interval reaches across clip (or the floor)."
_NO_CHANGE_EV: Final = 0.05
_TIME_CLOSE_EV: Final = 0.1  # marks of one time differ by so much


def place_answer(placed: Placed) -> Answer:
    """Return what is lost or in doubt, every spot, and what the exposure may do."""
    return Answer(
        headline=with_doubt(headline(placed), placed.flags),
        figures=facts([("exposure", given_words(placed))]),
        tables=(_spots(placed),),
        rows=facts(
            [
                *_latitude(placed),
                ("profile", f"ISO {placed.iso}, spots by {placed.spot_mode}, {placed.light}"),
                ("lens", lens_words(placed.lens)),
                *([] if placed.key is None else [("key", _key(placed, placed.key))]),
                *(
                    (spot.name, average_words(spot.metered))
                    for spot in placed.landings
                    if len(spot.metered.texts) > 1
                ),
            ]
        ),
        notes=_notes(placed),
        closing=(NEUTRAL, DOUBT, words.INTERVALS),
        marks=place_scale(placed),
    )


def place_scale(placed: Placed) -> Scale:
    """Return what a picture of the scene shows."""
    return scale_of(placed, lost_words(placed))


def headline(placed: Placed) -> str:
    """Return what is lost or in doubt, and the bracket that holds it where one frame can't."""
    latitude = placed.latitude
    if latitude is None or not latitude.bracket_ev or not placed.clip_seen:
        return lost_words(placed)
    frames = words.count(len(latitude.bracket_ev), "frame")
    both = words.listed(list(dict.fromkeys((latitude.highlight, latitude.shadow))))
    return f"{lost_words(placed)} A bracket of {frames} holds {both}: {_frames(placed, latitude)}."


def lost_words(placed: Placed) -> str:
    """Return what is lost or in doubt, in one sentence."""
    spots = placed.landings
    parts = []
    for word, chosen in (
        ("clipped", [s for s in spots if s.highlight == "clipped"]),
        ("in doubt at clip", [s for s in spots if s.highlight == "in doubt"]),
        ("below the floor", [s for s in spots if s.shadow == "below"]),
        ("in doubt at the floor", [s for s in spots if s.shadow == "in doubt"]),
    ):
        if chosen:
            parts.append(f"{word}: {', '.join(s.name for s in chosen)}")
    top = min(spots, key=lambda spot: spot.below_clip_ev.value)
    where = f"{top.name} lands {words.stops(top.below_clip_ev, 'below clip', 'above clip')}"
    first = f"{colours([placed.first_to_clip])} first"
    if not parts:
        return f"Nothing is lost: {where}, {first}."
    text = "; ".join(parts)
    return f"{text[0].upper()}{text[1:]}. The brightest, {where}, {first}."


def verdict_words(spot: Landing) -> str:
    """Return safe, in doubt or clipped with the channels; the floor where it matters."""
    said = "safe" if spot.verdict == "safe" else "not clipped"
    if spot.clipped:
        said = f"clipped: {colours(spot.clipped)}"
        if spot.doubtful:
            said += f"; in doubt: {colours(spot.doubtful)}"
    elif spot.doubtful:
        said = f"in doubt: {colours(spot.doubtful)}"
    if spot.shadow == "below":
        said += "; below the floor (SNR 10)"
    elif spot.shadow == "in doubt":
        said += "; in doubt at the floor (SNR 10)"
    return f"{said} (± {words.half_tenths(spot.below_clip_ev)})"


def given_words(placed: Placed) -> str:
    """Return the exposure in use."""
    given = placed.given
    if given.setting is None:
        rule = _RULES[given.rule]
        if given.rule == AIM and not placed.clip_seen:
            return f"{rule}, which isn't one to set, for clip was not seen"
        if given.mark is None:
            return f"{rule} (EV {given.given_ev:.1f} at ISO {placed.iso}, not rounded to marks)"
        rule += _too_short(given.mark.shutter)
        rest = words.amount(given.mark_ev)
        if rest == "nothing":
            return f"{given.mark.label}: {rule}"
        than = f"{rest} than the table counts with"
        return f"{given.mark.label}: {rule}, rounded to the safe side ({than})"
    lost = "".join(f", {c.text} ({c.stops:.1f})" for c in given.corrections)
    return f"{given.setting.label}{lost}"


def _too_short(shutter: Shutter | None) -> str:
    """What takes light away where a time is shorter than most bodies have; empty elsewhere."""
    if shutter is None:
        return ""
    over = math.log2(standards.SHORTEST_TIME_S / shutter.marked_s)
    if over <= _TIME_CLOSE_EV:
        return ""
    shortest = format_time(standards.SHORTEST_TIME_S)
    return f", beyond most shutters ({shortest}) without ND {enough_nd(over):.1f}"


def _key(placed: Placed, key: Landing) -> str:
    return f"{', '.join(key.metered.texts)} by {placed.mode}"


def _notes(placed: Placed) -> tuple[Note, ...]:
    notes = (
        *coarse_notes(each.metered.coarse for each in placed.landings),
        *guard_notes(each for each in placed.guards if each.name != "clip-not-seen"),
    )
    unseen = Note(text=f"{UNSEEN}: distances to clip are bounds. {BRIGHTER}", warns=True)
    notes = (*doubt_notes(placed.flags), *notes)
    return notes if placed.clip_seen else (*notes, unseen)


def _spots(placed: Placed) -> Table:
    """Key and spots: distances in stops, verdict in words."""
    shown = placed.landings
    names = list(pooled(shown[0].channels))
    head = ("spot", "EV at ISO 100", "from grey", *(f"{n} to clip" for n in names), "to SNR 10")
    return Table(
        caption="Where each lands, in stops",
        head=(*head, "verdict"),
        rows=tuple(_cells(spot, names) for spot in shown),
        numbers=tuple(range(1, len(head))),
    )


def _cells(spot: Landing, names: list[str]) -> tuple[str, ...]:
    channels = pooled(spot.channels)
    grey = "" if spot.above_grey_ev is None else words.with_sign(spot.above_grey_ev.value)
    floor = "" if spot.above_floor_ev is None else words.number(spot.above_floor_ev.value, 1)
    clips = (_distance(channels[name]) if name in channels else "" for name in names)
    ev = f"{spot.metered.ev100:.1f}"
    return (spot.name, ev, grey, *clips, floor, verdict_words(spot))


def _distance(distance: Estimate) -> str:
    return f"{'>= ' if distance.lower_bound else ''}{words.number(distance.value, 1)}"


def _latitude(placed: Placed) -> list[tuple[str, str]]:
    """What the exposure may do, and whether one frame holds the scene."""
    latitude, rows = placed.latitude, []
    if latitude is None:
        return []
    most, least = latitude.most_ev, latitude.least_ev
    if most is not None:
        rows.append((f"{latitude.highlight}, at clip", _up_to(most)))
    if least is not None:
        floor = f"reaches it with {_moved(least)}"
        rows.append((f"{latitude.shadow}, at SNR 10", f"{_down_to(least.high)} ({floor})"))
    if latitude.contrast_ev is not None and latitude.range_ev is not None:
        held = f"this body holds {words.margin(latitude.range_ev)} from SNR 10 to clip"
        contrast = f"{words.margin(latitude.contrast_ev)} stops from brightest to darkest spot"
        rows.append(("contrast", f"{contrast}; {held}"))
    if latitude.one_frame is not None:
        rows.append(("one frame", _one_frame(latitude, placed)))
    return rows


def _down_to(least_ev: float) -> str:
    """How far the exposure may fall before the shadow reaches the floor."""
    if abs(least_ev) < _NO_CHANGE_EV:
        return "is just safe as it is"
    change = words.amount(least_ev)
    return f"asks for {change} to be safe" if least_ev > 0.0 else f"is safe down to {change}"


def _up_to(most: Estimate) -> str:
    """How far the exposure may rise before the highlight clips; a bound asks for nothing."""
    clip = f"clips with {_moved(most)}"
    if abs(most.low) < _NO_CHANGE_EV:
        return f"is just safe as it is ({clip})"
    if most.low > 0.0:
        return f"is safe up to {words.amount(most.low)} ({clip})"
    if most.lower_bound:
        return f"isn't sure to be safe, for clip was not seen ({clip})"
    return f"asks for {words.amount(most.low)} to be safe ({clip})"


def _one_frame(latitude: Latitude, placed: Placed) -> str:
    why = _margin_words(latitude)
    if latitude.one_frame:
        return f"holds it, {_as_it_is(placed, latitude)}: {why}"
    if not placed.clip_seen:
        return f"{words.UNKNOWN} to hold both, for clip was not seen"
    return f"can't hold both: {why}; {_bracket(placed, latitude)}"


def _margin_words(latitude: Latitude) -> str:
    """What the body holds against what the scene needs, each in tenths."""
    margin = latitude.margin
    if margin is None:
        return ""
    holds, needs, doubt = (
        words.number(each, 1) for each in (margin.holds_ev, margin.needs_ev, margin.doubt_ev)
    )
    if latitude.highlight == latitude.shadow:
        return f"the body holds {holds}; one spot needs its doubt, {doubt}"
    return f"the body holds {holds}; the scene needs {needs} plus {doubt} of doubt"


def _as_it_is(placed: Placed, latitude: Latitude) -> str:
    """The change of exposure that one frame needs, as a mark too where one is safe."""
    shift = latitude.shift_ev
    if abs(shift) < _NO_CHANGE_EV:
        return "as it is"
    if latitude.shutter is not None:
        mark = f"{_beside(placed)}{latitude.shutter.label}"
        return f"with {words.amount(shift)} ({mark}, rounded to the safe side)"
    return f"with {words.amount(shift)}"


def _bracket(placed: Placed, latitude: Latitude) -> str:
    """The smallest bracket that holds the scene, as times too where the setting is known."""
    shifts = latitude.bracket_ev
    if not shifts:
        return "no bracket was found"
    frames = words.count(len(shifts), "frame")
    text = f"a bracket of {frames} does: {_shifts(latitude)} stops from here"
    if latitude.bracket_shutters:
        text += f" ({_frames(placed, latitude)}; rounded to the safe side)"
    return text


def _shifts(latitude: Latitude) -> str:
    return ", ".join(words.with_sign(shift) for shift in latitude.bracket_ev)


def _frames(placed: Placed, latitude: Latitude) -> str:
    """The frames of a bracket, as marks where the camera's time is known, else as changes."""
    if not latitude.bracket_shutters:
        return f"{_shifts(latitude)} stops"
    return _beside(placed) + ", ".join(shutter.label for shutter in latitude.bracket_shutters)


def _beside(placed: Placed) -> str:
    """The aperture that a found time goes with, where nobody set it."""
    mark = placed.given.mark
    return "" if mark is None else f"{mark.aperture.label} "


def _moved(change: Estimate) -> str:
    """Return a change at which something happens, with its margin."""
    return words.stops(change, "more", "less")
