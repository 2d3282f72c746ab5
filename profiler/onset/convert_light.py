"""A meter's reading in every unit that stands for the same light."""

from __future__ import annotations

import math

from profiler.exposure import light, units
from profiler.exposure.lighting import flash_exposure_lx_s
from profiler.exposure.modes import is_flash, receptor
from profiler.exposure.reading_tokens import Token
from profiler.exposure.readings import parse_reading
from profiler.exposure.stops import format_f_number, format_time, nearest_time_mark
from profiler.onset.conversion import Conversion, Line, line, tenths
from profiler.records import Meter


def convert_light(
    text: str, found: dict[str, Token], meter: Meter, mode: str | None, iso: float
) -> Conversion:
    """Return a reading's light: the same light in every unit, and settings at an ISO."""
    reading = parse_reading(text, f"'{text}'")
    mode = mode or reading.usual_mode
    ev100 = reading.metered_ev100(mode, meter)
    c_lx = meter.c_dome_lx if receptor(mode) == "dome" else meter.c_flat_lx
    if "iso" in found:
        iso = found["iso"].value
    if is_flash(mode):
        return _flash(text, ev100, iso, c_lx)
    cd_m2 = light.luminance_from_ev100(ev100, meter.k_cd_m2)
    lx = light.illuminance_from_ev100(ev100, c_lx)
    ev = light.ev_at_iso(ev100, iso)
    by_k, by_c = f"K {meter.k_cd_m2:g} cd/m2", f"C {c_lx:g} lx"
    lines = [
        line("EV at ISO 100", ev100, "EV", f"{ev100:.2f}"),
        *_at_iso(ev, iso),
        line("luminance", cd_m2, "cd/m2", "", f"2^EV100 K/100, {by_k}"),
        line("luminance, fL", units.fl_from_cd_m2(cd_m2), "fL", "", "1 fL = 3.42626 cd/m2"),
        line("luminance, cd/ft2", units.cd_ft2_from_cd_m2(cd_m2), "cd/ft2", ""),
        line("luminance, asb", units.asb_from_cd_m2(cd_m2), "asb", ""),
        line("illuminance", lx, "lx", "", f"2^EV100 C/100, {by_c}"),
        line("illuminance, fc", units.fc_from_lx(lx), "fc", "", "1 fc = 10.7639 lx"),
    ]
    lines += [
        line(
            f"time at f/{marked:g}",
            time_s,
            "s",
            f"{nearest_time_mark(time_s).label} (exact {format_time(time_s)})",
            f"at ISO {iso:g}",
        )
        for marked, exact in ((2.8, 8**0.5), (5.6, 32**0.5), (11, 128**0.5))
        for time_s in (light.time_from_ev(ev, exact),)
    ]
    return Conversion(text=text, kind="light", constants=f"{by_k}, {by_c}", lines=tuple(lines))


def _at_iso(ev: float, iso: float) -> list[Line]:
    if iso == 100.0:
        return []
    return [line(f"EV at ISO {iso:g}", ev, "EV", f"{ev:.2f}", "EV100 + log2(S/100)")]


def _flash(text: str, ev100: float, iso: float, c_lx: float) -> Conversion:
    f_number = 2.0 ** ((ev100 + math.log2(iso / 100.0)) / 2.0)
    lx_s = flash_exposure_lx_s(f_number, iso, c_lx)
    lines = (
        line("f-number", f_number, "", f"{format_f_number(f_number)}, {tenths(f_number)}"),
        line("2 log2 N at ISO 100", ev100, "EV", f"{ev100:.2f}"),
        line("incident exposure", lx_s, "lx s", "", f"C N^2/S, C {c_lx:g} lx"),
    )
    return Conversion(text=text, kind="flash", constants=f"C {c_lx:g} lx", lines=lines)
