"""Mixed light as an answer: the sum, its parts, the ways to another mixture."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from profiler.exposure.wording import format_f_tenths, format_time
from profiler.onset.mix import Change, Mix, Part
from profiler.onset.mix_camera import MixCamera, MixedLight, Wanted
from profiler.records import Estimate
from profiler.show import words
from profiler.show.answer import Answer, Table, facts
from profiler.show.doubts import coarse_notes, doubt_notes, with_doubt
from profiler.show.marks import Picture, Stack, Stacks
from profiler.show.meter import BRIGHTER
from profiler.show.onset.ratio import turned, turned_ways
from profiler.show.onset.settings import correction_words, lens_words

TENTHS: Final = "f/8+3 is f/8 with three tenths of a stop more light."
ALIKE: Final = "The iris alone changes flash and ambient light alike, never the share."
_READ: Final = {"alone": "alone", "with-ambient": "with the ambient light, which was taken off"}


def mix_answer(found: MixedLight) -> Answer:
    """Return the sum with the flash's share, the parts, what to change, the f-number to set."""
    mixed, change = found.mix, found.mix.change
    flags = () if found.camera is None else found.camera.flags
    lead: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    if change is not None and words.amount(change.power_ev) == "nothing":
        lead = (f"The light is already mixed that way: {_share(change)}.",)
    elif change is not None:
        lead, tables = (ALIKE,), (_ways(change, found.wanted),)
    return Answer(
        headline=with_doubt(headline(found), flags),
        lead=lead,
        figures=facts([*_parts(mixed), *_lost(mixed), *_turning(found), *_camera(found.camera)]),
        tables=tables,
        rows=facts(
            [
                *_read(mixed),
                *_losses(mixed),
                ("lens", lens_words(found.camera.lens if found.camera else None)),
            ]
        ),
        notes=(
            *doubt_notes(flags),
            *coarse_notes([mixed.coarse]),
        ),
        closing=(TENTHS, words.INTERVALS),
        missing=_missing(found),
        pictures=_pictures(mixed),
    )


def _pictures(mixed: Mix) -> tuple[Picture, ...]:
    """Flash and ambient as they are, and as they are wanted, each a part of its sum."""
    if mixed.ambient is None:
        return ()
    flash, ambient = 2.0**mixed.flash.stops.value, 2.0**mixed.ambient.stops.value
    stacks = [Stack(name="as it is", parts=(("flash", flash), ("ambient", ambient)))]
    if mixed.change is not None:
        share, whole = mixed.change.share, flash + ambient
        parts = (("flash", share * whole), ("ambient", (1.0 - share) * whole))
        stacks.append(Stack(name="as wanted", parts=parts))
    elif mixed.turn is not None and mixed.turn.change_ev is not None:
        turned_flash = flash * 2.0**mixed.turn.change_ev.value
        parts = (("flash", turned_flash), ("ambient", ambient))
        stacks.append(Stack(name="turned for the aperture", parts=parts))
    title = f"Light, with the iris closed or opened to keep its sum: {percent_words(stacks)}"
    return (Stacks(title=title, stacks=tuple(stacks)),)


def percent_words(stacks: Sequence[Stack]) -> str:
    """Return the parts of each sum in percent."""
    said = []
    for stack in stacks:
        whole = sum(amount for _, amount in stack.parts)
        parts = ", ".join(f"{100.0 * amount / whole:.0f} % {name}" for name, amount in stack.parts)
        said.append(f"{stack.name} {parts}")
    return "; ".join(said)


def headline(found: MixedLight) -> str:
    """Return the whole light, the share of flash, what to turn, on a body the f-number to set."""
    mixed, camera = found.mix, found.camera
    text = f"Together {part_words(mixed.total)}"
    if mixed.share is not None:
        text += f", {percent(mixed.share)} of it flash"
    turning = _for_share(found)
    if turning:
        return f"{text}. {turning}"
    if camera is None and found.aperture is not None:
        return f"{text}: {_for_aperture(found)}."
    if camera is None and mixed.corrections:
        return f"{text}: behind the losses {_behind(mixed)}."
    if camera is None or camera.below_clip_ev.lower_bound:
        return f"{text}."
    if found.aperture is not None:
        return f"{text}: {_for_aperture(found)}."
    text += f": set {camera.mark.label} at ISO {camera.iso}"
    if words.belongs_in_headline(camera.left_ev):
        text += f", which leaves {words.amount(camera.left_ev, 'still to give', 'too much')}"
    return f"{text}."


def _for_share(found: MixedLight) -> str:
    """What to turn and to set for the wanted share; empty where nothing is, or clip is unknown."""
    change, wanted, camera = found.mix.change, found.wanted, found.camera
    if change is None or wanted is None or not turned(change.power_ev):
        return ""
    if camera is not None and camera.below_clip_ev.lower_bound:
        return ""
    mark = wanted.by_power
    iso = found.mix.iso if camera is None else camera.iso
    text = f"For {_share(change)} turn the flash {turned(change.power_ev)}"
    if found.lacks:
        return f"{text}; the light then asks for {mark.label} at ISO {iso:g}."
    text += f" and set {mark.label} at ISO {iso:g}"
    if words.belongs_in_headline(mark.leftover_ev):
        text += f", which leaves {words.amount(mark.leftover_ev, 'still to give', 'too much')}"
    return f"{text}."


def _behind(mixed: Mix) -> str:
    """The f-number that the light asks for once filters and the like have taken theirs."""
    return format_f_tenths(mixed.total.f_number * math.exp2(-0.5 * mixed.lost_ev))


def _lost(mixed: Mix) -> list[tuple[str, str]]:
    if not mixed.corrections:
        return []
    return [("behind the losses", f"{_behind(mixed)} at ISO {mixed.iso:g}")]


def _losses(mixed: Mix) -> list[tuple[str, str]]:
    return [("filters and losses", correction_words(mixed.corrections, mixed.lost_ev))]


def _for_aperture(found: MixedLight) -> str:
    """What the flash needs for the aperture that stays."""
    turn, aperture = found.mix.turn, found.aperture
    if turn is None or aperture is None:
        return ""
    label = f"{aperture.label} at ISO {found.mix.iso:g}"
    if turn.change_ev is None:
        over = words.amount(turn.ambient_over_ev or 0.0, "over", "under")
        alone = "just what" if over == "nothing" else f"{over} what"
        return f"the ambient light alone is {alone} {label} asks for, whatever the flash gives"
    if not turned(turn.change_ev.value):
        return f"right for {label}"
    half = words.half_tenths(turn.change_ev)
    return f"for {label} turn the flash {turned(turn.change_ev.value)} (± {half})"


def _turning(found: MixedLight) -> list[tuple[str, str]]:
    turn, camera = found.mix.turn, found.camera
    if turn is None or (camera is not None and camera.below_clip_ev.lower_bound):
        return []
    if turn.change_ev is None:
        return [("to change", "a shorter time, a smaller aperture, or less ambient light")]
    return [("flash for the aperture", turned_ways(turn.change_ev.value))]


def part_words(part: Part) -> str:
    """Return a light as the f-number that it asks for, in tenths of a stop."""
    return f"{format_f_tenths(part.f_number)} (± {words.half_tenths(part.stops)} stop)"


def percent(share: Estimate) -> str:
    """Return a share in percent with its interval: `80 % (78 to 82)`."""
    return f"{100.0 * share.value:.0f} % ({100.0 * share.low:.0f} to {100.0 * share.high:.0f})"


def _parts(mixed: Mix) -> list[tuple[str, str]]:
    singles = [(f"flash {i}", part_words(part)) for i, part in enumerate(mixed.flashes, start=1)]
    rows = singles if len(singles) > 1 else []
    pops = f", {mixed.pops} pops" if mixed.pops > 1 else ""
    rows.append(("flash alone", part_words(mixed.flash) + pops))
    if mixed.ambient is not None:
        at = "" if mixed.time_s is None else f" at {format_time(mixed.time_s)}"
        rows.append(("ambient", part_words(mixed.ambient) + at))
    rows.append(("together", f"{part_words(mixed.total)}, at ISO {mixed.iso:g}"))
    if mixed.over_ambient_ev is not None:
        over = words.stops(mixed.over_ambient_ev, "over", "under")
        rows.append(("flash", f"{over} the ambient light"))
    return rows


def _read(mixed: Mix) -> list[tuple[str, str]]:
    if mixed.holds is None or mixed.ambient is None:
        return []
    return [("flash was read", _READ[mixed.holds])]


def _camera(camera: MixCamera | None) -> list[tuple[str, str]]:
    """The camera's f-number with the profile's offset in it."""
    if camera is None:
        return []
    grey = ("grey", words.stops(camera.below_clip_ev, "below clip", "above clip"))
    if camera.below_clip_ev.lower_bound:
        return [(f"grey at {camera.mark.label}", grey[1])]
    rest = "on the aim within the uncertainty"
    if words.is_spoken(camera.left_ev, camera.below_clip_ev):
        rest = f"leaves {words.amount(camera.left_ev, 'still to give', 'too much')}"
    return [
        ("offset", f"{words.amount(camera.offset_ev)} than the meter says ({camera.mode}, in it)"),
        ("camera", f"{camera.mark.label}, {rest}"),
        grey,
    ]


def _missing(found: MixedLight) -> tuple[str, ...]:
    if found.lacks:
        return (f"There is no f-number for the body, since {found.lacks}",)
    if found.camera is not None and found.camera.below_clip_ev.lower_bound:
        return (f"The f-number for the body isn't known, for clip was not seen. {BRIGHTER}.",)
    return ()


def _share(change: Change) -> str:
    return f"{100.0 * change.share:.0f} % flash"


def _ways(change: Change, wanted: Wanted | None = None) -> Table:
    """The ways to the wanted share, each enough by itself."""
    over = words.amount(change.over_ambient_ev, "over", "under")
    against = "equal to" if over == "nothing" else over
    away = "nearer" if change.distance_factor < 1.0 else "further off"
    iris = words.amount(change.close_after_power_ev, "closed", "opened")
    time_iris = words.amount(change.close_after_time_ev, "closed", "opened")
    time = "" if change.time_s is None else f", {format_time(change.time_s)}"
    if wanted is not None:
        iris += f", to {wanted.by_power.label}"
        time_iris += f", to {wanted.by_time.label}"
        time = "" if wanted.time is None else f", {wanted.time.label}"
    longer = "longer" if change.time_ev > 0.0 else "shorter"
    return Table(
        caption=f"For {_share(change)} ({against} the ambient light) one of these",
        head=("change", "by", "then the iris"),
        rows=(
            ("power", f"{words.amount(change.power_ev)} flash", iris),
            ("distance", f"flash at {change.distance_factor:.2f} x its distance ({away})", iris),
            (
                "time",
                f"{change.time_factor:.2f} x the time ({longer}{time}; not below sync)",
                time_iris,
            ),
        ),
    )
