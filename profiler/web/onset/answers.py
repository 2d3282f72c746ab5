"""What Settings and Place answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from profiler.exposure.aims import parse_aim
from profiler.onset.camera import parse_shutter
from profiler.onset.place import Placed
from profiler.onset.placement import Landing
from profiler.onset.scene import Scene, Spot
from profiler.show.onset import place as onset_place
from profiler.show.onset import settings as onset_settings
from profiler.show.onset.text import INTERVALS, number, stops
from profiler.web import fields
from profiler.web.answer import Answer, Table, missing, notes, rows
from profiler.web.fields import Params, optional, several, text
from profiler.web.fields import number as typed_number
from profiler.web.onset.scale_data import scale_data

if TYPE_CHECKING:
    from profiler.onset.profile import Profile

MARKS: Final = ("third", "half", "full")
EXPOSURES: Final = ("aim", "meter", "setting")


def settings_answer(profile: Profile, params: Params) -> Answer:
    """Return what to set for a reading."""
    if not text(params, "reading"):
        return missing("Type what the meter shows.")
    iso = typed_number(params, "iso", low=1, high=5e6, whole=True)
    found = profile.settings(
        text(params, "reading"),
        iso=None if iso is None else int(iso),
        aperture=optional(params, "aperture"),
        time=optional(params, "time"),
        **_common(params),
    )
    setup = found.setup
    first = profile.find(found.iso, found.mode, found.light).first_to_clip
    other = ", ".join(f"{o.setting.label} at ISO {o.iso}" for o in found.others)
    return Answer(
        headline=onset_settings.headline(found, first),
        lead=(" ".join(onset_settings.meter_lines(found)),),
        rows=rows(
            [
                ("reading", onset_settings.reading_words(found)),
                ("offset", onset_settings.offset_words(found.dial)),
                ("filters and losses", onset_settings.correction_words(found)),
                ("camera", onset_settings.left_words(setup)),
                ("grey from aim", onset_settings.from_aim_words(setup, found.aim_stops)),
                ("grey from clip", stops(setup.below_clip_ev, "below", "above")),
                ("grey from floor", onset_settings.floor_words(setup)),
                ("others", other),
            ]
        ),
        notes=notes(found.guards),
        closing=(INTERVALS,),
    )


def place_answer(profile: Profile, params: Params) -> Answer:
    """Return where key and spots land, with the scale."""
    scene = read_spots(params)
    key = optional(params, "key")
    if key is None and not len(scene):
        return missing("Type the key reading, or a spot with its reading.")
    iso = typed_number(params, "iso", low=1, high=5e6, whole=True)
    if iso is None:
        return missing("Choose the ISO label.")
    exposure = fields.one_of(params, "exposure", EXPOSURES, "aim")
    setting = text(params, "setting")
    if exposure == "setting" and not setting:
        return missing("Type the camera's setting, such as f/8 1/60.")
    placed = profile.place(
        int(iso),
        key=key,
        spots=scene,
        setting=setting if exposure == "setting" else exposure,
        **_common(params),
    )
    lines = [
        ("exposure", onset_place.given_words(placed.given, placed.iso)),
        *(("averaged", words) for words in onset_place.averages(placed)),
    ]
    if placed.latitude is not None:
        lines += onset_place.latitude_rows(placed.latitude, placed.given)
    return Answer(
        headline=onset_place.headline(placed),
        tables=(_spot_table(placed),),
        rows=rows(lines),
        notes=notes(placed.guards),
        closing=(onset_place.NEUTRAL, onset_place.DOUBT, INTERVALS),
        scale=scale_data(placed),
    )


def read_spots(params: Params) -> Scene:
    """Return the named spots of the form; a spot without a name gets a number."""
    names, readings = params.getlist("spot_name"), params.getlist("spot")
    spots = []
    for i, typed in enumerate(readings):
        parts = tuple(part.strip() for part in typed[:300].split(";") if part.strip())
        if parts:
            name = " ".join(names[i][:60].split()) if i < len(names) else ""
            spots.append(Spot(name=name or f"spot {i + 1}", texts=parts))
    return Scene(spots=tuple(spots))


def _common(params: Params) -> dict[str, Any]:
    """What settings and place share."""
    aim, sync = optional(params, "aim"), optional(params, "sync")
    return {
        "mode": optional(params, "mode"),
        "light": optional(params, "light"),
        "nd": several(params, "nd"),
        "aim": None if aim is None else parse_aim(aim),
        "marks": fields.one_of(params, "marks", MARKS, "third"),
        "mains_hz": float(fields.one_of(params, "mains", ("0", "50", "60"), "0")),
        "sync_s": 0.0 if sync is None else parse_shutter(sync, "sync").marked_s,
    }


def _spot_table(placed: Placed) -> Table:
    landings = [*placed.spots, *([] if placed.key is None else [placed.key])]
    return Table(
        caption="Where each lands",
        head=(
            "spot",
            "EV at ISO 100",
            "stops from grey",
            "stops to clip",
            "stops to SNR 10",
            "verdict",
        ),
        rows=tuple(_spot_cells(each) for each in landings),
        numbers=(1, 2, 3, 4),
    )


def _spot_cells(spot: Landing) -> tuple[str, ...]:
    grey = "" if spot.above_grey_ev is None else number(spot.above_grey_ev.value, 1)
    clip = spot.below_clip_ev
    floor = "" if spot.above_floor_ev is None else number(spot.above_floor_ev.value, 1)
    least = "at least " if clip.lower_bound else ""
    return (
        spot.name,
        f"{spot.metered.ev100:.1f}",
        grey,
        f"{least}{number(clip.value, 1)}",
        floor,
        onset_place.verdict_words(spot),
    )
