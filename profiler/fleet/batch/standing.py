"""Series that are done by how their files stand, so that a run looks into none of them again."""

from __future__ import annotations

import hashlib
import os
import time
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from profiler import __version__, standards
from profiler.fleet.batch.find import LEVELS, SHEET
from profiler.fleet.batch.store import Store, about_path
from profiler.fleet.batch.task import KEY_VERSION, METER, Settings
from profiler.fleet.details import FILE, way_down
from profiler.frames.cache import MeasureCache, Signature, signature_of
from profiler.frames.folder import is_frame_name

_THREADS: Final = 8
"""Folders looked at together: on a network each waits for its answer."""

Stood = tuple[tuple[str, Signature], ...]
"""Files by name, each with its signature."""


@dataclass(frozen=True, kw_only=True)
class _Look:
    """A digest of how files stood, and whether they had kept still long enough before."""

    digest: str
    settled: bool


class Standings:
    """What this machine knows of the series of a run: how all that decides a result stood.

    Sheet, frames, asset.toml and meter.toml up to the root, profile and what lies beside it, the
    settings. It is kept in the cache of measured frames, and may be lost.
    """

    def __init__(self, root: Path, store: Store, settings: Settings, cache: MeasureCache) -> None:
        self._root, self._store, self._cache = root, store, cache
        self._reports = settings.report is not None
        self._settings = repr(
            (KEY_VERSION, __version__, replace(settings, report=None), self._reports)
        )
        self._out = store.out.resolve()
        self._above: dict[Path, Stood] = {}
        self._before: dict[str, _Look] = {}

    def open_series(self, series: Mapping[str, Path]) -> dict[str, Path]:
        """Return the series, as name -> folder, of which something doesn't stand as it did."""
        with ThreadPoolExecutor(_THREADS) as pool:
            done = pool.map(self._done, series, series.values())
            return {
                name: series[name] for name, known in zip(series, done, strict=True) if not known
            }

    def look(self, name: str, folder: Path) -> None:
        """Look at what decides a series, before anybody reads it."""
        with suppress(OSError):
            self._before[name] = self._inputs(folder)

    def keep(self, names: list[str]) -> None:
        """Write down that these are done, where nothing can have changed since the look at them."""
        for name in names:
            with suppress(OSError):
                before, after = self._before[name], self._outputs(name)
                if before.settled and after.settled:
                    self._cache.keep_text(self._key(name), self._whole(before, after))

    def _done(self, name: str, folder: Path) -> bool:
        known = self._cache.text(self._key(name))
        if known is None:
            return False
        try:
            return known == self._whole(self._inputs(folder), self._outputs(name))
        except OSError:
            return False

    def _key(self, name: str) -> str:
        place = f"{self._out}\0{name}"
        return f"standing/{_digest(place)}"

    def _whole(self, inputs: _Look, outputs: _Look) -> str:
        return _digest(f"{self._settings} {inputs.digest} {outputs.digest}")

    def _inputs(self, folder: Path) -> _Look:
        now = time.time_ns()
        stood = [*self._of_folders_above(folder)]
        with os.scandir(folder) as entries:
            stood += sorted(
                (entry.name, signature_of(entry.stat()))
                for entry in entries
                if entry.name in (SHEET, LEVELS, FILE, METER) or is_frame_name(entry.name)
            )
        return _looked(stood, now)

    def _of_folders_above(self, folder: Path) -> Stood:
        """What lies above a series and holds for it, looked at once a run."""
        if folder == self._root:
            return ()
        above = folder.parent
        if above not in self._above:
            files = [
                place / name for place in way_down(self._root, above) for name in (FILE, METER)
            ]
            held = [path for path in files if path.is_file()]
            self._above[above] = tuple((str(path), signature_of(path.stat())) for path in held)
        return self._above[above]

    def _outputs(self, name: str) -> _Look:
        now = time.time_ns()
        profile = self._store.profile(name)
        paths = [profile, about_path(profile)]
        paths += [self._store.report(name)] if self._reports else []
        return _looked([(path.name, signature_of(path.stat())) for path in paths], now)


def _looked(stood: list[tuple[str, Signature]], now_ns: int) -> _Look:
    """A second change within one tick of the clock would show in no time stamp."""
    newest = max((max(signature[2:]) for _, signature in stood), default=0)
    settled = newest < now_ns - round(standards.CLOCK_TICK_S * 1e9)
    return _Look(digest=_digest(repr(stood)), settled=settled)


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode(errors="surrogateescape")).hexdigest()
