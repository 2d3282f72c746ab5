"""One quantity shown as all the others that stand for the same thing."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

from profiler.errors import ExposureError, SheetError, about
from profiler.exposure import apex, units
from profiler.exposure.lighting import (
    candela_seconds_from_guide,
    f_number_at,
    guide_number_ft,
    scaled_guide_number_m,
)
from profiler.exposure.quantities import exp2, positive
from profiler.exposure.reading_tokens import FORMS as READING_FORMS
from profiler.exposure.reading_tokens import Token, tokens
from profiler.exposure.stops import (
    format_f_number,
)
from profiler.onset import corrections
from profiler.onset.conversion import (
    Conversion,
    convert_aperture,
    convert_apex,
    convert_iso,
    convert_light,
    convert_time,
    line,
    tenths,
)
from profiler.records import Meter

FORMS: Final = (
    f"a reading ({READING_FORMS.removesuffix('; dark')}); a mark (f/11, 1/60, ISO 400); a density "
    "or reflectance (density 0.9, 18 %); a loss (ND64, factor 8, 3 stops, magnification 0.5, "
    "converter 1.4 ...); APEX (Av 6, Tv 7, Bv 5, Sv 5); GN 40 at 5 m ISO 400 power 1/4"
)


@dataclass(frozen=True, kw_only=True)
class ConvertAsk:
    """All that a quantity stands for.

    iso: of settings; mode: which constant of the meter counts; k_cd_m2, c_lx: other constants than
    the meter's, C of dome and flat alike; zero: whose APEX scale.
    """

    quantity: str
    iso: float = 100.0
    mode: str | None = None
    k_cd_m2: float | None = None
    c_lx: float | None = None
    zero: apex.Zero = "exif"


def convert(
    text: str,
    *,
    meter: Meter | None = None,
    mode: str | None = None,
    iso: float = 100.0,
    zero: apex.Zero = "exif",
) -> Conversion:
    """Return all that one quantity stands for.

    Light is carried over through the EV at ISO 100, by the meter's K and C (ISO 2720:1974); mode
    says which C (dome or flat; flat where nothing is said). zero: whose APEX scale for Bv and Sv.
    """
    meter = meter or Meter()
    plain = " ".join(text.split())
    for pattern, make in _WORDS:
        match = re.fullmatch(pattern, plain, re.IGNORECASE | re.ASCII)
        if match:
            return make(plain, match, zero)
    if re.match(
        r"(?i)(nd|density|factor|filter|x\s*\d|magnif|ext|bell|tele|conv|trans|lamp|dist)", plain
    ) or re.search(r"(?i)\d\s*(x|stops?)$|\d\s*(mm|cm|m)\b| is t", plain):
        return _loss(plain)
    found = _tokens(plain)
    kinds = set(found)
    if kinds <= {"f", "t"} and len(kinds) == 1:
        return convert_aperture(plain)
    if kinds in ({"time"}, {"angle", "fps"}):
        return convert_time(plain)
    if kinds == {"iso"}:
        return convert_iso(plain, found["iso"], zero)
    return convert_light(plain, found, meter, mode, iso)


def converted(ask: ConvertAsk, meter: Meter | None = None) -> Conversion:
    """Return all that a quantity stands for, as it was asked."""
    meter = meter or Meter()
    with about("k"):
        k = meter.k_cd_m2 if ask.k_cd_m2 is None else positive(ask.k_cd_m2, "K", "cd/m2")
    with about("c"):
        c = None if ask.c_lx is None else positive(ask.c_lx, "C", "lx")
    flat, dome = (meter.c_flat_lx, meter.c_dome_lx) if c is None else (c, c)
    with about("iso"):
        iso = positive(ask.iso, "ISO")
    used = replace(meter, k_cd_m2=k, c_flat_lx=flat, c_dome_lx=dome)
    return convert(ask.quantity, meter=used, mode=ask.mode, iso=iso, zero=ask.zero)


def _tokens(plain: str) -> dict[str, Token]:
    try:
        found = tokens(plain, f"'{plain}'")
    except SheetError as error:
        raise ExposureError(error.what, f"'{plain}'", f"Write {FORMS}") from error
    if not found or "dark" in found:
        raise ExposureError("there is nothing to convert", f"'{plain}'", f"Write {FORMS}")
    return found


def _loss(text: str) -> Conversion:
    correction = corrections.parse_correction(text, "'loss'")
    stops = correction.stops
    passes, factor = exp2(-stops), exp2(stops)
    lines = [line("stops", stops, "stops", f"{stops:.4f} stops", correction.basis)]
    lines.append(line("factor", factor, "", f"{factor:.5g}", "2^stops"))
    density = stops * math.log10(2.0)
    lines.append(line("density", density, "", f"{density:.4f}", "stops x log10(2)"))
    lines.append(line("passes", passes, "", f"{100.0 * passes:.3g} %"))
    return Conversion(text=text, kind=correction.kind, constants="", lines=tuple(lines))


def _reflectance(text: str, match: re.Match[str], _zero: apex.Zero) -> Conversion:
    reflectance = float(match[1].replace(",", ".")) / 100.0
    density = units.density_from_reflectance(reflectance)
    under = 0.0 - math.log2(reflectance)
    grey = math.log2(reflectance / 0.18)
    lines = (
        line("reflectance", reflectance, "", f"{100.0 * reflectance:.4g} %"),
        line("density", density, "", f"{density:.4f}", "-log10 R"),
        line("stops under white", under, "stops", f"{under:.3f} stops", "-log2 R"),
        line("stops over 18 %", grey, "stops", f"{grey:+.3f} stops"),
    )
    return Conversion(text=text, kind="reflectance", constants="", lines=lines)


def _guide(text: str, match: re.Match[str], _zero: apex.Zero) -> Conversion:
    iso, power = float(match[3] or 100), float(match[4] or 1)
    power_ev = 0.0 - math.log2(positive(power, "part of the power"))
    scaled = scaled_guide_number_m(float(match[1]), iso, power_ev)
    n = f_number_at(scaled, float(match[2]))
    b = candela_seconds_from_guide(scaled, iso)
    feet = guide_number_ft(scaled)
    used = f"ISO {iso:g}, {'full power' if power == 1.0 else f'power 1/{power:g}'}"
    full = "GN sqrt(S/100 x power)"
    lines = (
        line("f-number", n, "", f"{format_f_number(n)}, {tenths(n)}", f"GN/d, {used}"),
        line("guide number", scaled, "m", f"{scaled:.1f} m at {used}", full),
        line("guide number, ft", feet, "ft", f"{feet:.1f} ft at {used}", "1 ft = 0.3048 m"),
        line(
            "effective candela-seconds",
            b,
            "cd s",
            f"{b:.0f} cd s",
            f"GN^2 C/S, C 250 lx, {used.partition(', ')[2]}",
        ),
    )
    return Conversion(text=text, kind="guide number", constants="C 250 lx", lines=lines)


_N = r"([+-]?\d+(?:[.,]\d+)?)"
_WORDS: Final[tuple[tuple[str, Callable[[str, re.Match[str], apex.Zero], Conversion]], ...]] = (
    (r"(\d+(?:[.,]\d+)?)\s*%(?: card| reflectance)?", _reflectance),
    (rf"([atbs])v\s*=?\s*{_N}", convert_apex),
    (
        r"gn\s*(\d+(?:\.\d+)?)\s*m?\s*(?:at|@)\s*(\d+(?:\.\d+)?)\s*m"
        r"(?:,?\s*iso\s*(\d+))?(?:,?\s*power\s*1/(\d+))?",
        _guide,
    ),
)
