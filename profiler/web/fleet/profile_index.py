"""The profiles below one folder, each read again only where its file has changed."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from pathlib import Path
from typing import Final, TypeVar, cast

from profiler.errors import GreytareError, ProfileError
from profiler.fleet.absent import Left, series_left
from profiler.fleet.batch.store import profile_folder
from profiler.fleet.columns import Rows
from profiler.fleet.details import read_assets
from profiler.fleet.index import Index
from profiler.fleet.table import tagged
from profiler.web import folders

T = TypeVar("T")
ASSETS: Final = "assets.csv"
"""Serial and tag of each body, beside the profiles or in the start folder."""
_MOST_KEPT: Final = 12
_Signature = tuple[int, ...]


@dataclass(frozen=True, kw_only=True)
class Profiles:
    """What was found: rows in table order, path -> error of what can't be read.

    left: series without a result. below: the folder that the series are named from. version:
    another one after each change of a file.
    """

    rows: Rows
    wrong: dict[str, GreytareError]
    left: tuple[Left, ...]
    below: Path
    version: int


class ProfileIndex:
    """The profiles of one folder and all that was worked out from them, for many threads."""

    def __init__(self, start: Path, folder: Path) -> None:
        self._start, self._folder = start, folder
        self._lock = threading.Lock()
        self._index: Index | None = None
        self._assets: tuple[Path | None, _Signature] = (None, ())
        self._profiles: Profiles | None = None
        self._stale = False
        self._looked = 0.0
        self._kept: dict[Hashable, object] = {}

    def look(self, patience_s: float = 0.0) -> Profiles:
        """Return the profiles as they are now, or were up to patience_s seconds ago.

        ProfileError where there are none to read.
        """
        with self._lock:
            fresh = time.monotonic() - self._looked < patience_s
            if fresh and self._profiles is not None and self._profiles.rows:
                return self._profiles
            below = self._inside(profile_folder(self._folder))
            if self._index is None or self._index.below != below:
                self._index = Index(below, self._inside)
            assets = self._find_assets()
            self._stale |= self._index.look() or assets != self._assets
            left = series_left(self._folder, self._index.runs)
            self._stale |= self._profiles is not None and left != self._profiles.left
            if self._stale or self._profiles is None:
                tags = None if assets[0] is None else read_assets(assets[0])
                self._kept.clear()
                self._profiles = Profiles(
                    rows=tagged(self._index.rows(), tags),
                    wrong={
                        folders.relative(self._start, path): error
                        for path, error in self._index.wrong().items()
                    },
                    left=left,
                    below=below,
                    version=1 if self._profiles is None else self._profiles.version + 1,
                )
                self._assets = assets
                self._stale = False
            self._looked = time.monotonic()
            if not self._profiles.rows:
                raise _none(self._profiles, folders.relative(self._start, self._folder))
            return self._profiles

    def once(self, profiles: Profiles, key: Hashable, work: Callable[[], T]) -> T:
        """Return what `work` gives, worked out once for each key until a profile changes."""
        whole = (profiles.version, key)
        with self._lock:
            if whole in self._kept:
                return cast(T, self._kept[whole])
        made = work()
        with self._lock:
            self._kept[whole] = made
            while len(self._kept) > _MOST_KEPT:
                del self._kept[next(iter(self._kept))]
        return made

    def _inside(self, path: Path) -> Path:
        """The same path; GreytareError where a link in it leads out of the start folder."""
        folders.inside(self._start, folders.relative(self._start, path))
        return path

    def _find_assets(self) -> tuple[Path | None, _Signature]:
        """The list of tags, and how it stands."""
        for folder in (self._folder, self._start):
            path = folder / ASSETS
            if path.is_file():
                return self._inside(path), _signature(path)
        return None, ()


def _signature(path: Path) -> _Signature:
    """Size and time of a file, zeros where there is none."""
    try:
        stat = path.stat()
    except OSError:
        return (0, 0)
    return (stat.st_size, stat.st_mtime_ns)


def _none(profiles: Profiles, folder: str) -> GreytareError:
    if profiles.wrong:
        return next(iter(profiles.wrong.values()))
    return ProfileError(
        "there is no profile in it yet",
        folder or "the start folder",
        "Save one under Result, or run: greytare fleet run",
    )
