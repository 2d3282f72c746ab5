"""Words and figures in which exposures are shown."""

from __future__ import annotations

import math

from profiler.exposure.marks import F_SCALE
from profiler.exposure.quantities import positive

AGREE_EV = 0.05
"""Below this an offset would read 0.0 stop, so it is spelled as agreement."""


def _three_digits(value: float) -> str:
    """Three significant figures without an exponent or empty zeros; whole numbers stay whole."""
    whole = round(value)
    if whole >= 100 or math.isclose(value, whole, rel_tol=5e-4):
        return str(whole)
    decimals = max(0, 2 - math.floor(math.log10(value)))
    return f"{value:.{decimals}f}".rstrip("0").rstrip(".")


def format_f_number(f_number: float) -> str:
    """The f-number as it is, to three figures; for the mark on the ring use nearest_f_mark().label.

    >>> format_f_number(2.8), format_f_number(6.2767), format_f_number(16)
    ('f/2.8', 'f/6.28', 'f/16')
    """
    return f"f/{_three_digits(positive(float(f_number), 'f-number'))}"


def format_time(time_s: float) -> str:
    """The time as it is, to three figures; for the mark on the dial use nearest_time_mark().label.

    >>> format_time(1 / 125), format_time(0.8), format_time(30), format_time(1 / 3)
    ('1/125 s', '0.8 s', '30 s', '1/3 s')
    """
    inverse = 1.0 / positive(float(time_s), "time", "s")
    is_third = math.isclose(inverse, 3.0, rel_tol=1e-3)
    if time_s < 0.29 or is_third:
        return f"1/{_three_digits(inverse)} s"
    return f"{_three_digits(time_s)} s"


def format_f_tenths(f_number: float) -> str:
    """An exact f-number as a meter shows it: the full-stop mark below it plus tenths of a stop.

    >>> format_f_tenths(6.2767), format_f_tenths(8.0), format_f_tenths(7.95)
    ('f/5.6+3', 'f/8', 'f/8')
    """
    tenths_in_all = round(20.0 * math.log2(positive(float(f_number), "f-number")))
    stop, tenths = divmod(tenths_in_all, 10)
    exact = 2.0 ** (stop / 2.0)
    marks = [marked[0] for marked, member in F_SCALE["full"] if math.isclose(member, exact)]
    label = f"f/{marks[0]:g}" if marks else format_f_number(exact)
    return f"{label}+{tenths}" if tenths else label


def format_ev(value_ev: float, digits: int = 2) -> str:
    """A difference in EV with its sign; zero has none.

    >>> format_ev(0.537), format_ev(-0.3), format_ev(-0.001)
    ('+0.54 EV', '-0.30 EV', '0.00 EV')
    """
    rounded = round(value_ev, digits)
    if rounded == 0.0:
        return f"{0.0:.{digits}f} EV"
    return f"{rounded:+.{digits}f} EV"


def spell_offset(offset_ev: float) -> str:
    """An offset in words, so that its sign can't be misread.

    >>> spell_offset(0.537), spell_offset(-1.52)
    ('give 0.5 stop more than the meter says', 'give 1.5 stops less than the meter says')
    """
    if not math.isfinite(offset_ev):
        raise ValueError(f"an offset must be finite, not {offset_ev}")
    if abs(offset_ev) < AGREE_EV:
        return "the meter and this body agree"
    size = f"{abs(offset_ev):.1f}"
    unit = "stop" if float(size) <= 1.0 else "stops"
    return f"give {size} {unit} {'more' if offset_ev > 0.0 else 'less'} than the meter says"
