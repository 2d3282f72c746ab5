"""The series below a folder, told by their sheets."""

from __future__ import annotations

import os
from collections import deque
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from profiler.errors import GreytareError
from profiler.files.regular import no_folder
from profiler.frames.folder import is_frame_name

SHEET: Final = "sheet.csv"
LEVELS: Final = "levels.csv"
"""A measured table that stands for the raw files of a series where the folder holds none."""
ROOT_NAME: Final = "_root_"
"""Name of the series that lies in the root folder itself."""


@dataclass(frozen=True, kw_only=True)
class Found:
    """Series as name -> folder, sorted by name, and what was passed over.

    without_sheet: folders with frames that lack a sheet. linked_again: links to folders that are
    looked through anyway. unreached: folder, named from the root -> why it can't be looked into.
    """

    series: dict[str, Path]
    without_sheet: tuple[Path, ...]
    linked_again: tuple[Path, ...]
    unreached: dict[str, str]

    def lost(self, name: str) -> str:
        """Return why the files of a series can't be reached; empty where it isn't there any more.

        An empty folder counts as a mount that is lost: nobody deletes frames and keeps the folder.
        """
        parts = [] if name == ROOT_NAME else name.split("/")
        places = (("/".join(parts[:n]) or ROOT_NAME) for n in range(len(parts) + 1))
        return next((self.unreached[place] for place in places if place in self.unreached), "")


def find_series(root: Path, out: Path | None = None) -> Found:
    """Return every folder at or below `root` that holds a sheet.csv, under its path from there.

    A link to a folder is followed where the folder isn't looked through already, so that no series
    is found twice. Hidden folders and the folder `out` aren't entered. GreytareError where there is
    no series.
    """
    if not root.is_dir():
        raise GreytareError(no_folder(root), str(root), "Give the folder of all series")
    shut = None if out is None else out.resolve()
    if shut == root.resolve():
        raise GreytareError(
            "the results would lie among the series", str(out), "Name another folder", "out"
        )
    series: dict[str, Path] = {}
    without: list[Path] = []
    again: list[Path] = []
    unreached: dict[str, str] = {}
    seen: set[Path] = set()
    folders, links = deque([(root, "", root.resolve())]), deque[tuple[Path, str, Path]]()
    while folders or links:  # links last, so that a series bears the name of its own place
        linked = not folders
        here, below, real = (folders or links).popleft()
        name = below.rstrip("/") or ROOT_NAME
        try:
            real = here.resolve(strict=True) if linked else real
            if real == shut:
                continue
            if real in seen:
                again.append(here)
                continue
            entries = sorted(os.scandir(here), key=lambda entry: entry.name)
            kinds = [entry.is_dir() for entry in entries]
        except OSError as error:
            unreached[name] = error.strerror or type(error).__name__
            continue
        seen.add(real)
        if not entries:
            unreached[name] = "the folder is empty"
        files = {
            entry.name for entry, is_folder in zip(entries, kinds, strict=True) if not is_folder
        }
        for entry, is_folder in zip(entries, kinds, strict=True):
            if is_folder and not entry.name.startswith("."):
                place = (here / entry.name, f"{below}{entry.name}/", real / entry.name)
                (links if entry.is_symlink() else folders).append(place)
            elif entry.is_symlink() and not is_folder and not os.path.exists(entry.path):
                unreached[below + entry.name] = "the link leads nowhere"
        if SHEET in files:
            series[name] = here
        elif any(is_frame_name(each) for each in files):
            without.append(here)
    if not series:
        raise GreytareError(
            f"no folder at or below it holds a {SHEET}",
            str(root),
            "Write one per series with: {new_sheet}",
        )
    return Found(
        series=dict(sorted(series.items())),
        without_sheet=tuple(without),
        linked_again=tuple(again),
        unreached=unreached,
    )
