"""A quantity in every form that stands for the same: light, marks and their members, APEX."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from profiler.errors import ExposureError
from profiler.exposure import apex, light, units
from profiler.exposure.lighting import flash_exposure_lx_s
from profiler.exposure.marks import SERIES
from profiler.exposure.modes import is_flash, receptor
from profiler.exposure.reading_tokens import Token
from profiler.exposure.readings import parse_reading
from profiler.exposure.stops import (
    exact_iso,
    format_f_number,
    format_f_tenths,
    format_time,
    nearest_f_mark,
    nearest_iso_mark,
    nearest_time_mark,
)
from profiler.onset.camera import parse_aperture, parse_shutter
from profiler.records import Meter


@dataclass(frozen=True, kw_only=True)
class Line:
    """One of the quantities: exact value with its unit, as text, with the rule behind it."""

    name: str
    value: float
    unit: str
    text: str
    rule: str = ""


@dataclass(frozen=True, kw_only=True)
class Conversion:
    """What a text is, and everything that it stands for; exact numbers, no rounding inside."""

    text: str
    kind: str
    constants: str
    lines: tuple[Line, ...]

    def value(self, name: str) -> float:
        """Return the exact value of a line by its name."""
        for line in self.lines:
            if line.name == name:
                return line.value
        raise KeyError(name)


def line(name: str, value: float, unit: str, text: str, rule: str = "") -> Line:
    """Return a line; four figures of its value with the unit where no text is given."""
    words = text or f"{figures(value)} {unit}".rstrip()
    return Line(name=name, value=value, unit=unit, text=words, rule=rule)


def figures(value: float) -> str:
    """Return four significant figures without an exponent."""
    if value == 0.0 or not math.isfinite(value):
        return str(value)
    places = max(0, 3 - math.floor(math.log10(abs(value))))
    return f"{value:.{places}f}"


def tenths(f_number: float) -> str:
    """Return an f-number as a meter shows it."""
    return f"{format_f_tenths(f_number)} in tenths of a stop"


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


def convert_aperture(text: str) -> Conversion:
    """Return an aperture's exact member with the nearest marks."""
    aperture = parse_aperture(text, "'aperture'")
    exact = aperture.exact()
    off = 2.0 * math.log2(aperture.marked / exact)
    lines = [
        line("exact f-number", exact, "", f"{exact:.5g}", "2^(Av/2), third or half series"),
        line("mark against exact", off, "EV", f"{off:+.4f} EV", "what the mark claims too much"),
        line("A_v", apex.aperture_value(exact), "", f"{apex.aperture_value(exact):.4f}"),
    ]
    lines += [
        line(f"nearest {series} mark", mark.marked, "", f"{mark.label}, {mark.leftover_ev:+.2f} EV")
        for series in reversed(SERIES)
        for mark in (nearest_f_mark(exact, series),)
    ]
    return Conversion(text=text, kind="aperture", constants="", lines=tuple(lines))


def convert_time(text: str) -> Conversion:
    """Return a time's exact member with the nearest marks."""
    shutter = parse_shutter(text, "'time'")
    exact = shutter.seconds()
    off = math.log2(shutter.marked_s / exact)
    lines = [
        line("exact time", exact, "s", f"{exact:.6g} s, 1/{1.0 / exact:.5g}", "2^-Tv"),
        line("mark against exact", off, "EV", f"{off:+.4f} EV", "what the mark claims too much"),
        line("T_v", apex.time_value(exact), "", f"{apex.time_value(exact):.4f}"),
    ]
    lines += [
        line(
            f"nearest {series} mark", mark.marked, "s", f"{mark.label}, {mark.leftover_ev:+.2f} EV"
        )
        for series in reversed(SERIES)
        for mark in (nearest_time_mark(exact, series),)
    ]
    return Conversion(text=text, kind="time", constants="", lines=tuple(lines))


def convert_iso(text: str, token: Token, zero: apex.Zero) -> Conversion:
    """Return an ISO value's exact member, degrees with APEX values."""
    iso = token.value
    exif, asa = apex.speed_value(iso, "exif"), apex.speed_value(iso, "asa")
    exact, degrees = exact_iso(iso), units.degrees_from_iso(iso)
    mark = nearest_iso_mark(iso)
    lines = (
        line("exact ISO", exact, "", f"{exact:.5g}", "100 x 2^(k/3)"),
        line("degrees", float(degrees), "deg", f"{degrees}", "1 + 10 log10 S, rounded"),
        line("nearest third mark", mark.marked, "", f"{mark.label}, {mark.leftover_ev:+.2f} EV"),
        line("S_v, Exif's zero", exif, "", f"{exif:.4f}", "log2(S/3.125)"),
        line("S_v, ASA's zero", asa, "", f"{asa:.4f}", "0.106 lower: N = 2^(-7/4)"),
    )
    return Conversion(text=text, kind="speed", constants=f"{zero} zero asked for", lines=lines)


def convert_apex(text: str, match: re.Match[str], zero: apex.Zero) -> Conversion:
    """Return the quantity that an APEX value stands for."""
    letter, value = match[1].lower(), float(match[2].replace(",", "."))
    if not abs(value) <= 60.0:
        raise ExposureError(f"{value:g} is beyond any APEX value", f"'{text}'", "Check the number")
    who = f"{zero} zero, K {apex.implied_k_cd_m2(zero):.4g} cd/m2 implied"
    if letter == "a":
        n = apex.f_number_from_aperture_value(value)
        found = line("f-number", n, "", f"{n:.5g}, mark {nearest_f_mark(n).label}", "2^(Av/2)")
        return Conversion(text=text, kind="APEX", constants="", lines=(found,))
    if letter == "t":
        t = apex.time_s_from_time_value(value)
        found = line("time", t, "s", f"{t:.6g} s, mark {nearest_time_mark(t).label}", "2^-Tv")
        return Conversion(text=text, kind="APEX", constants="", lines=(found,))
    if letter == "s":
        s = apex.iso_from_speed_value(value, zero)
        found = line("ISO", s, "", f"{s:.5g}", who)
        return Conversion(text=text, kind="APEX", constants=who, lines=(found,))
    cd_m2 = apex.luminance_from_brightness_value(value, zero)
    ev100 = apex.ev100_from_brightness_value(value, zero)
    lines = (
        line("luminance", cd_m2, "cd/m2", "", "good to 0.2 EV: makers' zeros differ"),
        line("EV at ISO 100", ev100, "EV", f"{ev100:.2f}", who),
    )
    return Conversion(text=text, kind="APEX", constants=who, lines=lines)
