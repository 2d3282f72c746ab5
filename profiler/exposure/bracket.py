"""Rows of exposures around the metered one."""

from __future__ import annotations

import math

from profiler.errors import ExposureError
from profiler.exposure.quantities import positive

_MOST_FRAMES = 1000


def bracket_placements_ev(lowest_ev: float, highest_ev: float, step_ev: float) -> tuple[float, ...]:
    """Placements in EV from the lowest up in equal steps, the highest among them where it fits.

    >>> bracket_placements_ev(-1.0, 1.0, 0.5)
    (-1.0, -0.5, 0.0, 0.5, 1.0)
    """
    positive(step_ev, "bracket step", "EV")
    if not lowest_ev <= highest_ev:
        raise ExposureError(
            f"the lowest placement, {lowest_ev:g} EV, is above the highest, {highest_ev:g} EV",
            "bracket",
            "Give the lowest placement first",
        )
    span = (highest_ev - lowest_ev) / step_ev
    if not span < _MOST_FRAMES:
        raise ExposureError(
            f"{lowest_ev:g} to {highest_ev:g} EV by {step_ev:g} is over {_MOST_FRAMES} frames",
            "bracket",
            "Take a longer step or a shorter span",
        )
    steps = math.floor(span * (1.0 + 1e-9) + 1e-9)
    return tuple(lowest_ev + index * step_ev for index in range(steps + 1))
