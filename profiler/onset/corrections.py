"""Light lost on its way, as photographers write it: filters, extension, glass, distance."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from profiler.errors import ExposureError, about
from profiler.exposure import filters
from profiler.exposure.lighting import distance_change_ev

FORMS: Final = (
    "ND 0.9 (density), ND64 or factor 8, 3 stops, magnification 0.5, extension 180 on 120 mm, "
    "100 mm at 0.4 m, converter 1.4, transmission 0.9, lamp 2 m to 4 m"
)
_AMBIGUOUS_BELOW: Final = 8.0  # ND2, ND4: factors, or the densities of dark glass
_N: Final = r"(\d+(?:[.,]\d+)?|[.,]\d+)"
_LENGTH: Final = rf"{_N}\s*(mm|cm|m|ft)"
_METRES: Final = {"mm": 0.001, "cm": 0.01, "m": 1.0, "ft": 0.3048}


@dataclass(frozen=True, kw_only=True)
class Correction:
    """Light that doesn't arrive, in stops (negative: light gained), with how that was found."""

    text: str
    kind: str
    stops: float
    basis: str


Texts = str | Iterable[str | Correction]
"""Corrections as they are typed, or made already."""


def parse_correction(text: str, where: str = "correction") -> Correction:
    """Return what a text takes away, in stops.

    >>> round(parse_correction("ND 0.9").stops, 4), parse_correction("3 stops").stops
    (2.9897, 3.0)
    >>> round(parse_correction("magnification 0.5").stops, 4)
    1.1699
    """
    plain = " ".join(text.lower().replace("×", "x").split())
    for pattern, make in _FORMS:
        match = re.fullmatch(pattern, plain, re.ASCII)
        if match:
            kind, stops, basis = make(match, f"{where} '{text}'")
            return Correction(text=text.strip(), kind=kind, stops=stops, basis=basis)
    mend = f"Write one of: {FORMS}"
    if re.fullmatch(_N, plain):
        raise ExposureError("a bare number may be a density, a factor or stops", where, mend)
    raise ExposureError("it is not understood", f"{where} '{text}'", mend)


def corrections_of(texts: Texts) -> tuple[Correction, ...]:
    """Return what filters and the like take away, from texts or made already."""
    several = (texts,) if isinstance(texts, str) else texts
    with about("loss"):
        return tuple(
            each if isinstance(each, Correction) else parse_correction(each, "loss")
            for each in several
        )


def lost_ev(corrections: Sequence[Correction]) -> float:
    """Return the stops that all corrections take together: stops add."""
    return math.fsum(each.stops for each in corrections)


def nearest_nd(surplus_ev: float) -> tuple[float, float]:
    """Return the ND density, in steps of 0.3, nearest to a surplus in stops, and what it leaves.

    >>> density, rest = nearest_nd(3.1)
    >>> density, round(rest, 2)
    (0.9, 0.11)
    """
    density = round(0.3 * round(surplus_ev / filters.stops_from_density(0.3)), 1)
    return density, surplus_ev - filters.stops_from_density(density)


def enough_nd(over_ev: float) -> float:
    """Return the least ND density, in steps of 0.3, that takes away so many stops.

    A twentieth of a stop, which nobody sees, may be left.

    >>> enough_nd(1.33), enough_nd(2.0), enough_nd(2.1)
    (0.6, 0.6, 0.9)
    """
    return round(0.3 * math.ceil((over_ev - 0.05) / filters.stops_from_density(0.3)), 1)


Made = tuple[str, float, str]


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _metres(number: str, unit: str) -> float:
    return _number(number) * _METRES[unit]


def _density(match: re.Match[str], _where: str) -> Made:
    density = _number(match[1])
    return "filter", filters.stops_from_density(density), f"density {density:g} / log10(2)"


def _nd(match: re.Match[str], where: str) -> Made:
    value = _number(match[1])
    if "." in match[1] or "," in match[1]:
        return _density(match, where)
    if value < _AMBIGUOUS_BELOW:
        raise ExposureError(
            f"ND{value:g} may be a density or a factor",
            where,
            f"Write 'density {value:g}', 'factor {value:g}' or stops",
        )
    return _factor(match, where)


def _factor(match: re.Match[str], _where: str) -> Made:
    factor = _number(match[1])
    return "filter", filters.stops_from_factor(factor), f"log2 of the factor {factor:g}"


def _stops(match: re.Match[str], _where: str) -> Made:
    sign = -1.0 if match[1] == "-" else 1.0
    return "stops", sign * _number(match[2]), "as given"


def _magnification(match: re.Match[str], _where: str) -> Made:
    m = _number(match[1])
    p = _number(match[2]) if match[2] else 1.0
    basis = f"2 log2(1 + {m:g}{'' if p == 1.0 else f'/{p:g}'})"
    return "close focus", filters.bellows_ev(m, p), basis


def _extension(match: re.Match[str], _where: str) -> Made:
    image, focal = _metres(match[1], match[2] or match[4]), _metres(match[3], match[4])
    stops = filters.bellows_ev_from_extension(image, focal)
    return "close focus", stops, "2 log2(extension/focal length)"


def _close(match: re.Match[str], _where: str) -> Made:
    m = filters.magnification_at(_metres(match[1], match[2]), _metres(match[3], match[4]))
    return "close focus", filters.bellows_ev(m), f"magnification {m:.3g}, 2 log2(1 + m)"


def _converter(match: re.Match[str], _where: str) -> Made:
    factor = _number(match[1])
    stops = filters.teleconverter_ev(factor)
    return "teleconverter", stops, f"2 log2({factor:g}), its own glass aside"


def _transmission(match: re.Match[str], _where: str) -> Made:
    tau = _number(match[1]) / (100.0 if match[2] else 1.0)
    return "transmission", filters.transmission_loss_ev(tau), f"-log2({tau:g})"


def _lamp(match: re.Match[str], _where: str) -> Made:
    start, end = _metres(match[1], match[2]), _metres(match[3], match[4])
    stops = 0.0 - distance_change_ev(start, end)
    return "distance", stops, "2 log2(new/old distance), for a lamp that is small beside it"


def _f_words(match: re.Match[str], _where: str) -> Made:
    f_number, t_number = _number(match[1]), _number(match[2])
    tau = filters.transmittance_from_stops(f_number, t_number)
    basis = f"2 log2(T/N); {100 * tau:.0f} % pass"
    return "transmission", filters.transmission_loss_ev(tau), basis


_FORMS: Final[tuple[tuple[str, Callable[[re.Match[str], str], Made]], ...]] = (
    (rf"nd\s*{_N}", _nd),
    (rf"(?:density|d)\s*{_N}", _density),
    (rf"(?:filter )?factor\s*x?{_N}x?", _factor),
    (rf"x\s*{_N}", _factor),
    (rf"{_N}\s*x", _factor),
    (rf"([+-]?)\s*{_N}\s*(?:stops?|ev)(?: lost| less| nd)?", _stops),
    (rf"magnification\s*{_N}(?:,? pupil\s*{_N})?", _magnification),
    (rf"(?:extension|bellows)\s*{_N}\s*(mm|cm|m)?\s*(?:on|of|/)\s*{_N}\s*(mm|cm|m)", _extension),
    (rf"{_LENGTH}\s*(?:lens )?(?:at|@)\s*{_LENGTH}", _close),
    (rf"(?:tele)?converter\s*x?{_N}x?", _converter),
    (rf"transmission\s*{_N}\s*(%)?", _transmission),
    (rf"f/?{_N} is t/?{_N}", _f_words),
    (rf"(?:lamp|distance)(?: from)?\s*{_LENGTH}\s*(?:to|->)\s*{_LENGTH}", _lamp),
)
