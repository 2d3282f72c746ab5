"""A lamp turned up or down, in words."""

from __future__ import annotations

import math
from typing import Final

from profiler.show import words

FLASH_ALONE: Final = "The power turns the flash alone: ambient light stays as it is"


def turned(change_ev: float) -> str:
    """Return `up by 1.3 stops`, `down by 0.4 stop`; empty where nothing is to be turned."""
    size = words.amount(change_ev, "", "").strip()
    if size == "nothing":
        return ""
    return f"{'up' if change_ev > 0.0 else 'down'} by {size}"


def turned_ways(change_ev: float) -> str:
    """Return a change of power with its factor and the distance that does the same.

    A lamp's light falls with the square of its distance, so d' = d 2^(-ev/2).
    """
    said = turned(change_ev)
    if not said:
        return "leave it as it is"
    power, distance = math.exp2(change_ev), math.exp2(-0.5 * change_ev)
    return f"turn it {said} ({power:.2g} x the power), or place it at {distance:.2f} x its distance"
