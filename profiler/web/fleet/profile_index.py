"""The profiles below one folder, each read again only where its file has changed."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final, TypeVar, cast

from profiler.errors import GreytareError, ProfileError
from profiler.fleet.batch.store import about_path, profile_folder
from profiler.fleet.details import read_assets
from profiler.fleet.read_rows import profile_rows
from profiler.fleet.rows import Row, order
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

    below: the folder that the series are named from; cut: not all folders were looked through.
    version: another one after each change of a file.
    """

    rows: tuple[Row, ...]
    wrong: dict[str, GreytareError]
    below: Path
    cut: bool
    version: int


class ProfileIndex:
    """The profiles of one folder and all that was worked out from them, for many threads."""

    def __init__(self, start: Path, folder: Path) -> None:
        self._start, self._folder = start, folder
        self._lock = threading.Lock()
        self._read: dict[Path, tuple[_Signature, list[Row] | GreytareError]] = {}
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
            paths, cut = folders.find_profiles(self._start, below)
            assets = self._find_assets()
            self._stale |= self._refresh(paths, below) or assets != self._assets
            if self._stale or self._profiles is None:
                tags = None if assets[0] is None else read_assets(assets[0])
                self._kept.clear()
                version = 1 if self._profiles is None else self._profiles.version + 1
                self._profiles = self._collect(below, tags, cut, version)
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

    def _rows(self, path: Path, below: Path) -> list[Row]:
        """The rows of a profile; GreytareError whatever is wrong with it or what lies beside."""
        if about_path(path).is_symlink():
            self._inside(about_path(path))
        try:
            rows = profile_rows(path, below=below)
            for row in rows:
                "".join(map(str, order(row))).encode()
        except (RecursionError, UnicodeError, OverflowError) as error:
            raise ProfileError(
                f"it holds what can't be shown ({type(error).__name__})", path.name, "Fit it anew"
            ) from error
        return rows

    def _inside(self, path: Path) -> Path:
        """The same path; GreytareError where a link in it leads out of the start folder."""
        folders.inside(self._start, folders.relative(self._start, path))
        return path

    def _refresh(self, paths: list[Path], below: Path) -> bool:
        """Read what is new or changed, forget what is gone; whether anything was."""
        gone = self._read.keys() - set(paths)
        for path in gone:
            del self._read[path]
        changed = bool(gone)
        for path in paths:
            signature = (*_signature(path), *_signature(about_path(path)))
            if path in self._read and self._read[path][0] == signature:
                continue
            changed = True
            try:
                self._read[path] = (signature, self._rows(path, below))
            except GreytareError as error:
                self._read[path] = (signature, error)
        return changed

    def _find_assets(self) -> tuple[Path | None, _Signature]:
        """The list of tags, and how it stands."""
        for folder in (self._folder, self._start):
            path = folder / ASSETS
            if path.is_file():
                return self._inside(path), _signature(path)
        return None, ()

    def _collect(
        self, below: Path, tags: Mapping[str, str] | None, cut: bool, version: int
    ) -> Profiles:
        rows: list[Row] = []
        wrong: dict[str, GreytareError] = {}
        for path, (_, found) in self._read.items():
            if isinstance(found, GreytareError):
                wrong[folders.relative(self._start, path)] = found
            else:
                rows += found
        return Profiles(
            rows=tuple(tagged(rows, tags)), wrong=wrong, below=below, cut=cut, version=version
        )


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
