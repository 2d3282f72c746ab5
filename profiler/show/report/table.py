"""Tables of a report as plain records, before they become HTML."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from profiler.calibration.fit.budget import coverage_factor

Cell = str | tuple[str, str]
"""Text, or text with a smaller line below it."""


@dataclass(frozen=True, kw_only=True)
class Table:
    """A table with its caption; the first cell of a row names the row.

    words: columns of text, the others hold numbers and stand at the right; bars: a part 0 to 1 per
    row, drawn beside its last cell; dim: rows of what was left out; long: may run over pages.
    """

    id: str
    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    foot: tuple[tuple[Cell, ...], ...] = ()
    words: frozenset[int] = frozenset({0})
    bars: tuple[float, ...] = ()
    dim: frozenset[int] = frozenset()
    long: bool = False

    def __post_init__(self) -> None:
        for row in (*self.rows, *self.foot):
            if len(row) != len(self.head):
                raise ValueError(f"{self.id}: {len(row)} cells under {len(self.head)} names")


def with_half(value: float, u: float, *, sign: bool = False) -> str:
    """Return `512.0 ± 0.1`: a value with half its 95 % interval, rounded alike; u is standard.

    sign: a plus is shown too; zero has none.
    """
    half = coverage_factor(math.inf) * u
    if not half > 0.0:
        return figures(value, 4)
    places = min(4, max(0, -math.floor(math.log10(half / 0.95) + 1e-12)))
    shown = round(value, places) or 0.0
    plus = "+" if sign and shown > 0.0 else ""
    return f"{plus}{shown:.{places}f} ± {max(half, 10.0**-places):.{places}f}"


def figures(value: float, count: int) -> str:
    """Return a number to `count` significant figures, without an exponent where it is readable."""
    if value == 0.0 or not math.isfinite(value):
        return f"{value:g}"
    exponent = math.floor(math.log10(abs(value)))
    if not -4 <= exponent <= 7:
        return f"{value:.{count - 1}e}"
    return f"{round(value, count - 1 - exponent):.{max(0, count - 1 - exponent)}f}"


def freedom(dof: float | None) -> str:
    """Return degrees of freedom, cut down to whole ones; ∞ where there is no limit."""
    if dof is None:
        return "∞"
    return "over 1000" if dof > 1000.0 else f"{math.floor(dof)}"


def listed(words: Sequence[str]) -> str:
    """Return `a, b and c`."""
    return " and ".join(filter(None, (", ".join(words[:-1]), *words[-1:])))
