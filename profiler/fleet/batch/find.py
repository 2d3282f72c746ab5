"""The series below a folder, told by their sheets."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from profiler.errors import GreytareError
from profiler.frames.folder import is_frame_name

SHEET: Final = "sheet.csv"
LEVELS: Final = "levels.csv"
"""A measured table that stands for the raw files of a series where the folder holds none."""
ROOT_NAME: Final = "_root_"
"""Name of the series that lies in the root folder itself."""


@dataclass(frozen=True, kw_only=True)
class Found:
    """Series as name -> folder, sorted by name, and folders with frames that lack a sheet."""

    series: dict[str, Path]
    without_sheet: tuple[Path, ...]


def find_series(root: Path, out: Path | None = None) -> Found:
    """Return every folder at or below `root` that holds a sheet.csv, under its path from there.

    Hidden folders, links to folders and the folder `out` aren't entered. GreytareError where
    there is no series.
    """
    if not root.is_dir():
        raise GreytareError("there is no such folder", str(root), "Give the folder of all series")
    shut = None if out is None else out.resolve()
    series: dict[str, Path] = {}
    without: list[Path] = []
    for place, folders, files in os.walk(root):
        here = Path(place)
        folders[:] = sorted(
            name
            for name in folders
            if not name.startswith(".") and (shut is None or (here / name).resolve() != shut)
        )
        if SHEET in files:
            name = here.relative_to(root).as_posix()
            series[ROOT_NAME if name == "." else name] = here
        elif any(is_frame_name(name) for name in files):
            without.append(here)
    if not series:
        raise GreytareError(
            f"no folder at or below it holds a {SHEET}",
            str(root),
            "Write one per series with: {new_sheet}",
        )
    return Found(series=dict(sorted(series.items())), without_sheet=tuple(without))
