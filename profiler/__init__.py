"""greytare measures how one camera body and one handheld meter disagree.

import profiler

sheet = profiler.read_sheet("SERIES/sheet.csv")
measurement = profiler.measure("SERIES", sheet)
profile = profiler.fit(measurement, sheet, light="daylight")
profiler.save_profile(profile, "BODY.profile.json")
print(profiler.describe(profile))
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from profiler.api import (
        Meter,
        Profile,
        describe,
        fit,
        load_profile,
        measure,
        read_sheet,
        read_table,
        save_profile,
    )

__all__ = [
    "Meter",
    "Profile",
    "describe",
    "fit",
    "load_profile",
    "measure",
    "read_sheet",
    "read_table",
    "save_profile",
]


def __getattr__(name: str) -> Any:
    """Load the public functions when they are first asked for, so that start-up stays quick."""
    if name in __all__:
        from profiler import api

        return getattr(api, name)
    raise AttributeError(f"module 'profiler' has no attribute {name!r}")
