"""Marks of aperture, time, ISO with their exact members; APEX values."""

from __future__ import annotations

import math
import re

from profiler.errors import ExposureError
from profiler.exposure import apex, units
from profiler.exposure.marks import SERIES
from profiler.exposure.reading_tokens import Token
from profiler.exposure.stops import exact_iso, nearest_f_mark, nearest_iso_mark, nearest_time_mark
from profiler.onset.camera import parse_aperture, parse_shutter
from profiler.onset.conversion import Conversion, line


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
