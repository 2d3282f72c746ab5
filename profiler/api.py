"""The functions that a script needs, taking paths as text too."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

from profiler.calibration import pipeline
from profiler.files import level_table
from profiler.files import sheet as sheet_file
from profiler.onset.profile import Profile
from profiler.records import Measurement, Meter
from profiler.show.calibration.profile import describe as words

if TYPE_CHECKING:
    from profiler.files.sheet import Sheet

PathText = str | os.PathLike[str]

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


def read_sheet(path: PathText) -> Sheet:
    """Return the sheet in a CSV file."""
    return sheet_file.read_sheet(Path(path))


def read_table(path: PathText) -> Measurement:
    """Return measured levels from a CSV table, greytare's own or a published one."""
    return level_table.read_table(Path(path))


def measure(folder: PathText, sheet: Sheet | None = None, **options: Any) -> Measurement:
    """Return the measured frames of a folder; options as `pipeline.measure` has them."""
    return pipeline.measure(Path(folder), sheet, **options)


def fit(
    measurement: Measurement,
    sheet: Sheet,
    *,
    light: str = "other",
    aim: float | None = None,
    meter: Meter | None = None,
    times: str = "best",
) -> Profile:
    """Return the profile of a measured series; see `profiler.calibration.pipeline.fit`."""
    data = pipeline.fit(measurement, sheet, light=light, aim=aim, meter=meter, times=times)
    return Profile(data)


def save_profile(profile: Profile, path: PathText, *, replace: bool = False) -> Path | None:
    """Write a profile whole or not at all; return where an older one was kept, if any."""
    return profile.save(path, replace=replace)


def load_profile(path: PathText) -> Profile:
    """Return the profile in a file, checked field by field."""
    return Profile.load(path)


def describe(profile: Profile, *, budget: bool = False) -> str:
    """Return the results as a photographer wants to read them; budgets on demand."""
    return words(profile.data, budget=budget)
