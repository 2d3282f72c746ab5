"""Values in the texts of metadata fields; None for what means "missing"."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Final

from profiler import standards

_MISSING_TEXT: Final = {"", "undef", "n/a", "none", "unknown", "inf", "nan", "(null)", "----"}
_MISSING_16_BIT: Final = 65535.0
"""All bits set: in a tag that stands for "not here", in the label for "look elsewhere"."""


def clean(text: str) -> str:
    """Return the text without padding and without bytes that aren't text."""
    whole = text.encode("utf-8", "surrogateescape").decode("utf-8", "replace")
    return whole.replace("\0", " ").strip()


def text_or_none(text: str) -> str | None:
    """Return the text as it stands, leading zeros kept; None where it says "missing"."""
    text = text.strip()
    if text.lower() in _MISSING_TEXT or re.fullmatch(r"\(\d+\)", text):
        return None
    return text


def number(text: str, *, signed: bool = False) -> float | None:
    """Return the first number of a field, rational or decimal; None for zero.

    signed: an APEX value, which may be negative. Zero would mean 1 s or f/1, but stands in files
    that don't know; those of 1 s or f/1 say so in the plain field.
    """
    words = text.split()
    if not words:
        return None
    try:
        value = float(Fraction(words[0]))
    except (ValueError, ZeroDivisionError, OverflowError):
        return None
    if signed:
        return value if value != 0.0 and abs(value) < 40.0 else None
    return value if value > 0.0 else None


def time_s(value: float | None) -> float | None:
    """Return a shutter time where it can be one."""
    return _between(value, standards.TIME_RANGE_S)


def f_number(value: float | None) -> float | None:
    """Return an f-number where it can be one."""
    return _between(value, standards.F_NUMBER_RANGE)


def iso_label(value: float | None) -> float | None:
    """Return an ISO label, a whole number, where it can be one; 65535 means "look elsewhere"."""
    if value == _MISSING_16_BIT:
        return None
    label = _between(value, standards.ISO_RANGE)
    return None if label is None else float(round(label))


def date(text: str) -> str | None:
    """Return ISO 8601 text for Exif's "2026:05:04 10:00:00"; None for blanks and zeros."""
    match = re.fullmatch(r"(\d{4})[:-](\d\d)[:-](\d\d)[ T](\d\d:\d\d:\d\d)", text)
    if match is None or match.group(1) == "0000" or match.group(2) == "00":
        return None
    year, month, day, clock = match.groups()
    return f"{year}-{month}-{day}T{clock}"


def _between(value: float | None, ends: tuple[float, float]) -> float | None:
    """Return the value inside the ends; not a number lies outside."""
    return float(value) if value is not None and ends[0] <= value <= ends[1] else None
