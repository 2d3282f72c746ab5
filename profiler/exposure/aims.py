"""How far below clip a metered grey should land."""

from __future__ import annotations

import math
from typing import Final

from profiler import standards
from profiler.errors import ExposureError

AIMS: Final = {
    "iso12232": standards.AIM_ISO12232_STOPS,
    "white-at-clip": standards.AIM_WHITE_AT_CLIP_STOPS,
}
"""Aims that have a name, in stops below clip."""


def parse_aim(text: str) -> float:
    """Return the aim in stops below clip: a name of AIMS, or a number of stops.

    >>> round(parse_aim("iso12232"), 3), parse_aim("3.5")
    (2.963, 3.5)
    """
    if text in AIMS:
        return AIMS[text]
    try:
        stops = float(text)
    except ValueError:
        stops = math.nan
    if not 0.0 < stops < 8.0:
        raise ExposureError(
            f"the aim {text!r} isn't a number of stops below clip",
            "",
            f"Give {', '.join(AIMS)} or a number of stops between 0 and 8",
            "aim",
        )
    return stops
