"""Numbers rounded together with their uncertainty."""

from __future__ import annotations

import math

from profiler.fitting.budget import decimals
from profiler.records import Estimate
from profiler.results import Span


def plus_minus(estimate: Estimate, unit: str = "") -> str:
    """Return `2.8 +- 0.2 stops`: the value with half its 95 % interval, rounded alike."""
    half = 0.5 * (estimate.high - estimate.low)
    places = decimals(half)
    shown_half = max(half, 10.0**-places)
    value = round(estimate.value, places) + 0.0  # no minus before a zero
    text = f"{value:.{places}f} ± {shown_half:.{places}f}"
    return f"{text} {unit}".rstrip()


def signed(estimate: Estimate) -> str:
    """Return `+0.5 ± 0.2`, the sign always shown; zero has none."""
    text = plus_minus(estimate)
    return text if text.startswith("-") or float(text.split()[0]) == 0.0 else f"+{text}"


def three_figures(value: float) -> str:
    """Return a speed to three significant figures at most, two where that is enough."""
    if value <= 0.0 or not math.isfinite(value):
        return str(value)
    step = 10 ** (math.floor(math.log10(value)) - 1)
    return f"{round(value / step) * step:g}"


def speed(span: Span) -> str:
    """Return `490 (440 to 550)`: a speed to two figures with its 95 % interval."""
    return f"{three_figures(span.value)} ({three_figures(span.low)} to {three_figures(span.high)})"
