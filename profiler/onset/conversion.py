"""What a quantity was converted into."""

from __future__ import annotations

import math
from dataclasses import dataclass

from profiler.exposure.stops import format_f_tenths


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
