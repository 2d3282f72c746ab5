"""Flags of a frame as a cell of a table."""

from __future__ import annotations

import math
from collections.abc import Sequence

from profiler.errors import MeasureError
from profiler.flags import KINDS
from profiler.records import Flag


def flags_text(flags: Sequence[Flag]) -> str:
    """Return "name size unit: detail" of each flag, with semicolons between.

    >>> flags_text([Flag(name="eight-bit", size=8.0, unit="bit")])
    'eight-bit 8.0 bit'
    """
    return "; ".join(
        f"{flag.name} {float(flag.size)!r} {flag.unit}"
        + (f": {flag.detail}" if flag.detail else "")
        for flag in flags
    )


def parse_flags(text: str, file: str, where: str) -> tuple[Flag, ...]:
    """Return the flags of a file from the cell that flags_text made; MeasureError for another."""
    return tuple(_flag(part.strip(), file, where) for part in text.split(";") if part.strip())


def _flag(text: str, file: str, where: str) -> Flag:
    head, _, detail = text.partition(": ")
    name, size, unit = (*head.split(" ", 2), "", "")[:3]
    try:
        value = float(size)
    except ValueError:
        value = math.nan
    if name not in KINDS or not math.isfinite(value) or not unit:
        raise MeasureError(
            f"{text!r} isn't a flag with its size", where, "Leave the column as it was measured"
        )
    return Flag(name=name, size=value, unit=unit, where=file, detail=detail)
