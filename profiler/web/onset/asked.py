"""What the fields of On set ask, as the questions that commands and scripts ask too."""

from __future__ import annotations

from typing import Any, Final

from profiler.exposure.marks import SERIES
from profiler.exposure.modes import is_flash
from profiler.onset.convert import ConvertAsk
from profiler.onset.metered import AVERAGES
from profiler.onset.mix import HOLDS
from profiler.onset.mix_camera import MixAsk
from profiler.onset.place import AIM, METER, PlaceAsk
from profiler.onset.ratio import RatioAsk
from profiler.onset.scene import Scene, Spot
from profiler.onset.settings import SettingsAsk
from profiler.records import MODES
from profiler.web.fields import Params, number, one_of, optional, several, text, whole

FLASH_MODES: Final = tuple(mode for mode in MODES if is_flash(mode))
STEADY_MODES: Final = tuple(mode for mode in MODES if not is_flash(mode))
BY_SETTING: Final = "setting"
EXPOSURES: Final = (AIM, METER, BY_SETTING)


def settings_ask(params: Params) -> SettingsAsk | str:
    """Return the question, or what to type first."""
    if not text(params, "reading"):
        return "Type what the meter shows."
    return SettingsAsk(
        reading=text(params, "reading"),
        iso=iso_of(params),
        aperture=optional(params, "aperture"),
        time=optional(params, "time"),
        fps=number(params, "fps", low=1.0, high=10_000.0),
        **_on_body(params),
    )


def place_ask(params: Params) -> PlaceAsk | str:
    """Return the question, or what to type first."""
    scene, key, iso = read_spots(params), optional(params, "key"), iso_of(params)
    if key is None and not len(scene):
        return "Type the key reading, or a spot with its reading."
    if iso is None:
        return "Choose the ISO label."
    exposure = one_of(params, "exposure", EXPOSURES, AIM)
    setting = text(params, "setting")
    if exposure == BY_SETTING and not setting:
        return "Type the camera's setting, such as f/8 1/60."
    return PlaceAsk(
        iso=iso,
        key=key,
        spots=scene,
        setting=setting if exposure == BY_SETTING else exposure,
        keep=several(params, "keep"),
        shadows=several(params, "shadow"),
        **_on_body(params),
    )


def mix_ask(params: Params) -> MixAsk | str:
    """Return the question, or what to type first."""
    flashes = [text(params, name) for name in ("flash", "flash2") if text(params, name)]
    ambient, total = optional(params, "ambient"), optional(params, "total")
    holds: Any = one_of(params, "flash_reading", ("", *HOLDS), "") or None
    if not flashes and total is None:
        return "Type what the flash meter showed, such as f/8 ISO 100."
    if ambient is not None and not text(params, "time"):
        return "Type the camera's time: it sets the ambient light."
    if ambient is not None and flashes and total is None and holds is None:
        return "Say whether the flash was read alone or with the ambient light."
    share = number(params, "share", low=1, high=99, unit="%")
    return MixAsk(
        iso=iso_of(params),
        flash=flashes,
        ambient=ambient,
        total=total,
        flash_reading=holds,
        time=optional(params, "time"),
        pops=whole(params, "pops", 1, low=1, high=99),
        share=None if share is None else share / 100.0,
        over_ambient_ev=number(params, "over", low=-20.0, high=20.0),
        mode=one_of(params, "flash_mode", FLASH_MODES, "flash-flat"),
        ambient_mode=one_of(params, "ambient_mode", STEADY_MODES, "incident-flat"),
        light=optional(params, "light"),
        marks=_marks(params),
        aperture=optional(params, "aperture"),
        loss=several(params, "loss"),
        transmission=number(params, "transmission", low=0.01, high=1.0),
    )


def ratio_ask(params: Params) -> RatioAsk | str:
    """Return the question, or what to type first."""
    key, fill = text(params, "key"), text(params, "fill")
    others = [*([fill] if fill else []), *_lamps(params)]
    if not key or not others:
        return "Type the readings of key and fill, each read alone."
    return RatioAsk(
        key=key,
        fill=others,
        wanted=several(params, "wanted"),
        aperture=optional(params, "aperture"),
        time=optional(params, "time"),
        iso=iso_of(params) or 100,
        loss=several(params, "loss"),
        ambient_mode=one_of(params, "ambient_mode", ("", *MODES), "") or None,
    )


def convert_ask(params: Params) -> ConvertAsk | str:
    """Return the question, or what to type first."""
    if not text(params, "quantity"):
        return "Type a reading, a mark, a filter or an APEX value."
    zero: Any = one_of(params, "apex", ("exif", "asa"), "exif")
    return ConvertAsk(
        quantity=text(params, "quantity"),
        iso=number(params, "iso", low=0.1, high=5e6) or 100.0,
        mode=optional(params, "mode"),
        k_cd_m2=number(params, "k", low=0.1, high=1000.0),
        c_lx=number(params, "c", low=1.0, high=10_000.0),
        zero=zero,
    )


def iso_of(params: Params) -> int | None:
    """Return the ISO label, one between the measured ones first; None where it is left open."""
    name = "between" if text(params, "between") else "iso"
    iso = number(params, name, low=1, high=5e6, whole=True)
    return None if iso is None else int(iso)


def read_spots(params: Params) -> Scene:
    """Return the named spots of the form; a spot without a name gets a number."""
    names, readings = params.getlist("spot_name"), params.getlist("spot")
    average: Any = one_of(params, "average", AVERAGES, "stops")
    spots = []
    for i, typed in enumerate(readings):
        parts = tuple(part.strip() for part in typed[:300].split(";") if part.strip())
        if parts:
            name = " ".join(names[i][:60].split()) if i < len(names) else ""
            spots.append(Spot(name=name or f"spot {i + 1}", texts=parts, average=average))
    return Scene(spots=tuple(spots))


def _lamps(params: Params) -> list[str]:
    """Further lights as `name=reading`, or as a reading where they have no name."""
    names, readings = params.getlist("lamp_name"), params.getlist("lamp")
    found = []
    for i, typed in enumerate(readings):
        name = " ".join(names[i][:60].split()) if i < len(names) else ""
        if typed.strip():
            found.append(f"{name}={typed[:300].strip()}" if name else typed[:300].strip())
    return found


def _marks(params: Params) -> Any:
    return one_of(params, "marks", SERIES, "third")


def _on_body(params: Params) -> dict[str, Any]:
    """What settings and place share."""
    return {
        "mode": optional(params, "mode"),
        "light": optional(params, "light"),
        "aim": optional(params, "aim"),
        "loss": several(params, "loss"),
        "transmission": number(params, "transmission", low=0.01, high=1.0),
        "average": one_of(params, "average", AVERAGES, "stops"),
        "marks": _marks(params),
        "mains_hz": float(one_of(params, "mains", ("0", "50", "60"), "0")),
        "sync_s": optional(params, "sync"),
        "between": bool(text(params, "between")),
    }
