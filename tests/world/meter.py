"""A handheld meter that shows the light in one of many forms, as somebody types them."""

from __future__ import annotations

import math

import numpy as np

from .marks import APERTURES_THIRD, aperture_text

REPEATABILITY_EV = 0.055  # of one reading, normal: 93 % inside +-0.1 EV


def reading(display: str, ev100: float, rng: np.random.Generator) -> tuple[str, float]:
    """Return what is typed for an EV that the meter measured, and the EV that this text means.

    Exact apertures and times stand behind the marks of a meter (from memory).
    """
    if display == "EV tenths":
        text = f"{ev100:.1f}"
        return f"EV {text}", float(text)
    if display == "EV whole":
        return f"EV {round(ev100)}", float(round(ev100))
    if display == "lx two figures":
        lux = 2.5 * 2.0**ev100  # E = C 2^EV/100 with C = 250
        place = 10.0 ** (math.floor(math.log10(lux)) - 1)
        shown = round(lux / place) * place
        return f"{shown:g} lx", math.log2(shown / 2.5)
    tv = int(rng.integers(math.ceil(ev100) - 9, math.floor(ev100) - 2))
    time = _full_time(tv)
    av = ev100 - tv
    if display == "f and tenths":
        tenths = round(10.0 * av)
        mark = APERTURES_THIRD[3 * (tenths // 10)]
        more = f"+{tenths % 10}" if tenths % 10 else ""
        return f"f/{mark}{more} {time} ISO 100", tv + tenths / 10.0
    per_stop = {"thirds": 3, "halves": 2, "full stops": 1}[display]
    steps = round(per_stop * av)
    mark = aperture_text(steps / per_stop, per_stop)
    return f"f/{mark} {time} ISO 100", tv + steps / per_stop


def _full_time(tv: int) -> str:
    """Text of the full-stop mark whose exact time is 2^-tv s."""
    marks = "30 15 8 4 2 1 1/2 1/4 1/8 1/15 1/30 1/60 1/125 1/250 1/500 1/1000 1/2000 1/4000"
    text = marks.split()[tv + 5]
    return text if "/" in text else f"{text} s"
