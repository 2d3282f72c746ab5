"""The step of a meter's display, as its readings tell it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from profiler import standards
from profiler.exposure.reading_tokens import Token, tokens
from profiler.exposure.readings import Reading, format_reading
from profiler.exposure.stops import series_with_f_number, series_with_time

_TENTH_EV = 0.1
_THIRD_EV = 1.0 / 3.0
_HALF_EV = 0.5


def display_step_ev(readings: Iterable[Reading], stated_ev: float | None = None) -> float:
    """Return the step in EV of the display that readings of one meter come from.

    stated_ev, what the meter's file says, overrules. Readings of one form are looked at together:
    f-number with tenths typed once (`+3`, `+0`): 0.1; with `+1/3` or `+1/2` that; marks of the
    third series, or of full stops alone: 1/3, since tenths would have been typed; marks of the half
    series: 1/2. EV, lx, fc, cd/m2 with fL: the last figure that is typed. The coarsest form counts;
    without any reading it is standards.DISPLAY_STEP_EV.

    >>> from profiler.exposure.readings import parse_reading
    >>> round(display_step_ev([parse_reading("f/8 1/8 ISO 100")]), 3)
    0.333
    """
    if stated_ev is not None:
        return stated_ev
    typed = {r.text or format_reading(r): f"{r.form} {r.unit}" for r in readings if not r.is_dark}
    by_form: dict[str, list[dict[str, Token]]] = {}
    for text, form in typed.items():
        by_form.setdefault(form, []).append(tokens(text, f"reading '{text}'"))
    steps = [_step_of_form(found) for found in by_form.values()]
    return max(steps, default=standards.DISPLAY_STEP_EV)


def _step_of_form(readings: Sequence[dict[str, Token]]) -> float:
    for kind in ("lux", "candela"):
        typed = [found[kind] for found in readings if kind in found]
        if typed:
            return _step_of_light(typed)
    typed = [found["ev"] for found in readings if "ev" in found]
    if typed:
        return 10.0 ** -max(len(_digits(token)[1]) for token in typed)
    return _step_of_marks(readings)


def _step_of_marks(readings: Sequence[dict[str, Token]]) -> float:
    apertures = [found.get("f") or found["t"] for found in readings]
    series = [series_with_f_number(token.value) for token in apertures]
    parts = {token.parts for token in apertures}
    if 10 in parts or not all(series):
        return _TENTH_EV  # an f-number between the marks was counted in tenths too
    if 3 in parts:
        return _THIRD_EV
    if 2 in parts:
        return _HALF_EV
    series += [series_with_time(found["time"].value) for found in readings if "time" in found]
    if frozenset({"third"}) not in series and frozenset({"half"}) in series:
        return _HALF_EV
    return _THIRD_EV


def _step_of_light(typed: Sequence[Token]) -> float:
    """Step in EV of numbers of light, log2((n + step/2)/(n - step/2)), the largest of them.

    Zeros that end a whole number are figures of the display only as far as another number shows as
    many, beyond the second.
    """
    figures = max(2, *(len("".join(_digits(token)).strip("0")) for token in typed))
    steps = []
    for token in typed:
        whole, part = _digits(token)
        places = -len(part) if part else max(len(whole) - figures, 0)
        half = 0.5 * 10.0**places
        steps.append(math.log2((token.value + half) / max(token.value - half, half)))
    return max(steps)


def _digits(token: Token) -> tuple[str, str]:
    """Digits typed before the decimal point, without zeros that begin it, and those after it."""
    whole, _, part = token.typed.replace(",", ".").strip("+- ").partition(".")
    return whole.lstrip("0"), part
