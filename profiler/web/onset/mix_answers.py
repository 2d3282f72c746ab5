"""What Mix and Ratio answer."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Final

from profiler.errors import ProfileError
from profiler.exposure.modes import is_flash
from profiler.onset import lookup
from profiler.onset.camera import parse_shutter
from profiler.onset.metered import read_meter_texts
from profiler.onset.mix import HOLDS, Mix, mix, ratio
from profiler.onset.mix_camera import MixCamera
from profiler.records import MODES, Meter
from profiler.show.onset import mix as onset_mix
from profiler.show.onset.text import INTERVALS, stops
from profiler.web import fields
from profiler.web.answer import Answer, Table, missing, rows
from profiler.web.fields import Params, optional, text
from profiler.web.fields import number as typed_number

if TYPE_CHECKING:
    from profiler.onset.profile import Profile

FLASH_MODES: Final = tuple(mode for mode in MODES if is_flash(mode))
STEADY_MODES: Final = tuple(mode for mode in MODES if not is_flash(mode))


def mix_answer(profile: Profile | None, params: Params) -> Answer:
    """Return flash and ambient added up, with the body's f-number where the profile holds flash."""
    flashes = [text(params, name) for name in ("flash", "flash2") if text(params, name)]
    ambient = optional(params, "ambient")
    if not flashes:
        return missing("Type what the flash meter showed, such as f/8 ISO 100.")
    if ambient is not None and not text(params, "time"):
        return missing("Type the camera's time: it sets the ambient light.")
    holds: Any = text(params, "flash_reading") or None
    if holds is not None:
        holds = fields.one_of(params, "flash_reading", HOLDS, "alone")
    if ambient is not None and holds is None:
        return missing("Say whether the flash was read alone or with the ambient light.")
    share = typed_number(params, "share", low=1, high=99, unit="%")
    wanted: dict[str, Any] = {
        "time": optional(params, "time"),
        "pops": fields.whole(params, "pops", 1, low=1, high=99),
        "share": None if share is None or ambient is None else share / 100.0,
        "mode": fields.one_of(params, "flash_mode", FLASH_MODES, "flash-flat"),
        "ambient_mode": fields.one_of(params, "ambient_mode", STEADY_MODES, "incident-flat"),
    }
    iso = fields.whole(params, "iso", 100, low=1, high=5_000_000)
    found, camera, why = _mixed(profile, iso, flashes, ambient, holds, wanted)
    lines = [
        *((f"flash {i}", onset_mix.part_words(p)) for i, p in enumerate(found.flashes, start=1)),
        ("flash together", onset_mix.part_words(found.flash)),
        ("ambient", "" if found.ambient is None else onset_mix.part_words(found.ambient)),
        ("all together", f"{onset_mix.part_words(found.total)}, at ISO {found.iso:g}"),
    ]
    if len(found.flashes) < 2:
        lines = lines[1:] if found.flashes else lines
    if found.over_ambient_ev is not None:
        lines.append(
            ("flash", f"{stops(found.over_ambient_ev, 'over', 'under')} the ambient light")
        )
    if camera is not None:
        lines += onset_mix.camera_rows(camera)
    return Answer(
        headline=onset_mix.mix_headline(found, camera),
        lead=_closing_line(found),
        tables=_ways(found),
        rows=rows(lines),
        notes=((False, why),) if why else (),
        closing=(onset_mix.TWO_TENTHS, INTERVALS),
    )


def ratio_answer(profile: Profile | None, params: Params) -> Answer:
    """Return the lighting ratio of key and fill, each read alone."""
    key, fill = text(params, "key"), text(params, "fill")
    if not key or not fill:
        return missing("Type the readings of key and fill, each read alone.")
    mode = fields.one_of(params, "ambient_mode", MODES, "incident-flat")
    meter = _meter(profile)
    found = ratio(
        read_meter_texts(key, mode, meter, where="key"),
        read_meter_texts(fill, mode, meter, where="fill"),
    )
    both, plain = found.lighting_ratio, found.key_to_fill
    return Answer(
        headline=f"Lighting ratio {both.value:.1f}:1 as (key + fill) : fill; "
        f"key : fill is {plain.value:.1f}:1.",
        rows=rows(
            [
                ("(key + fill) : fill", f"{onset_mix.span(both)}, lit side to shadow side"),
                ("key : fill", onset_mix.span(plain)),
                ("key over fill", stops(found.key_over_fill_ev, "over", "under")),
                ("lit over shadow", f"{found.lit_over_shadow_ev:.1f} stops"),
            ]
        ),
        closing=(INTERVALS,),
    )


def _ways(found: Mix) -> tuple[Table, ...]:
    """The ways to the wanted part of flash, as a table."""
    lines = [line.strip() for line in onset_mix.change_lines(found)]
    if not lines:
        return ()
    ways = tuple(tuple(re.split(r"\s{2,}", line, maxsplit=1)) for line in lines[1:-1])
    return (Table(caption=f"{lines[0]}:", head=("change", "by"), rows=ways),)


def _closing_line(found: Mix) -> tuple[str, ...]:
    """What holds for all the ways."""
    return tuple(line.strip() for line in onset_mix.change_lines(found)[-1:])


def _mixed(
    profile: Profile | None,
    iso: int,
    flashes: list[str],
    ambient: str | None,
    holds: Any,
    wanted: dict[str, Any],
) -> tuple[Mix, MixCamera | None, str]:
    """The mix on the body where its profile holds flash at the label, else the mix alone."""
    why = "Choose a profile with flash to get the f-number for your body."
    if profile is not None:
        try:
            profile.find(iso, wanted["mode"])
        except ProfileError:
            why = (
                f"The profile holds no {wanted['mode']} at ISO {iso}, so this is the light alone, "
                f"without the body's offset. It holds {profile.holdings}."
            )
        else:
            found, camera = profile.mix(
                iso=iso, flash=flashes, ambient=ambient, flash_reading=holds, **wanted
            )
            return found, camera, ""
    meter = _meter(profile)
    time = wanted["time"]
    alone = mix(
        iso=float(iso),
        flashes=[read_meter_texts(each, wanted["mode"], meter, where="flash") for each in flashes],
        ambient=None
        if ambient is None
        else read_meter_texts(ambient, wanted["ambient_mode"], meter, where="ambient"),
        holds=holds,
        time_s=None if time is None else parse_shutter(time).seconds(),
        pops=wanted["pops"],
        share=wanted["share"],
    )
    return alone, None, why


def _meter(profile: Profile | None) -> Meter:
    return Meter() if profile is None else lookup.meter_of(profile.data)
