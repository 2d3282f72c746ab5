"""What the page remembers while it runs."""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from concurrent.futures import TimeoutError as StillRunningError
from pathlib import Path
from typing import TYPE_CHECKING, Final, TypeVar, cast

from starlette.datastructures import QueryParams

from profiler.frames.cache import Signature, signature_of
from profiler.web import folders
from profiler.web.compute import Compute
from profiler.web.fleet.profile_index import ProfileIndex
from profiler.web.series.open_series import OpenSeries
from profiler.web.series.pictures import Pictures

if TYPE_CHECKING:
    from profiler.follow.records import FollowAsk, Growing
    from profiler.records import FrameTags
    from profiler.web.follow.following import Following

_AS: Final = {"key": "reading"}
"""A key reading is a reading."""


class Kept:
    """Each tab's own fields, and those that mean the same on all that share them.

    For one page, while it runs.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._own: dict[str, list[tuple[str, str]]] = {}
        self._shared: dict[str, str] = {}

    def recall(self, tab: str, came: QueryParams, shared: tuple[str, ...]) -> QueryParams:
        """Return what came in, or, where nothing did, what the tab held last with what is shared.

        shared: names of the tab's fields that other tabs have too.
        """
        if came:
            return came
        with self._lock:
            own = [pair for pair in self._own.get(tab, []) if pair[0] not in shared]
            held = [(name, self._shared.get(_AS.get(name, name), "")) for name in shared]
        return QueryParams([*(pair for pair in held if pair[1]), *own])

    def keep(self, tab: str, asked: QueryParams, shared: tuple[str, ...]) -> None:
        """Remember what a tab was asked; shared: as in recall."""
        with self._lock:
            self._own[tab] = list(asked.multi_items())
            for name, value in self._own[tab]:
                if name in shared:
                    self._shared[_AS.get(name, name)] = value

    def last(self, name: str) -> str:
        """Return a shared field, empty where nobody asked."""
        with self._lock:
            return self._shared.get(name, "")


PATIENCE_S: Final = 0.35
"""How long a page waits for tags before it is sent without them."""

T = TypeVar("T")
Tags = dict[str, "FrameTags"]


class Session:
    """Series, fleets, pictures and tags below one start folder; safe to use from many threads."""

    def __init__(self, start: Path) -> None:
        self.start = start.resolve()
        self.pictures = Pictures()
        self.compute = Compute()
        self.kept = Kept()
        self._lock = threading.Lock()
        self._open: dict[Path, OpenSeries] = {}
        self._lately: dict[str, tuple[float, object]] = {}
        self._indexes: dict[Path, ProfileIndex] = {}
        self._following: dict[Path, Following] = {}
        self._tags: dict[tuple[str, tuple[tuple[str, Signature], ...]], Future[Tags]] = {}
        self._reader = ThreadPoolExecutor(1, thread_name_prefix="greytare-tags")

    def series(self, text: str) -> OpenSeries:
        """Return the open series of a folder below the start folder."""
        folder = folders.folder_inside(self.start, text)
        with self._lock:
            if folder not in self._open:
                self._open[folder] = OpenSeries(self.start, folder)
            return self._open[folder]

    def series_asked(self, text: str | None) -> OpenSeries:
        """Return the series of a folder, or where none is asked for the one asked for last."""
        if text is not None:
            self.kept.keep("series", QueryParams(folder=text), ("folder",))
            return self.series(text)
        last = self.kept.last("folder")
        return self.series(last if (self.start / last).is_dir() else "")

    def following(self, here: OpenSeries) -> Following | None:
        """Return what follows the folder of a series, None where nothing does."""
        with self._lock:
            return self._following.get(here.folder)

    def follow(self, here: OpenSeries, ask: FollowAsk) -> None:
        """Follow the folder of a series, unless that goes on already."""
        from profiler.web.follow.following import Following

        with self._lock:
            if here.folder not in self._following:
                sheet = folders.sheet_of(self.start, here.folder)
                self._following[here.folder] = Following(
                    here.folder, ask, sheet, lambda path: folders.is_inside(self.start, path)
                )

    def end_following(self, here: OpenSeries) -> Growing | None:
        """End it; return what was known last, None where nothing was followed."""
        with self._lock:
            running = self._following.pop(here.folder, None)
        return None if running is None else running.stop()

    def profile_index(self, text: str) -> ProfileIndex:
        """Return the profiles below a folder, which lies below the start folder."""
        folder = folders.folder_inside(self.start, text)
        with self._lock:
            if folder not in self._indexes:
                self._indexes[folder] = ProfileIndex(self.start, folder)
            return self._indexes[folder]

    def lately(self, key: str, age_s: float, work: Callable[[], T]) -> T:
        """Return what `work` gives, or gave up to age_s seconds ago."""
        with self._lock:
            then, held = self._lately.get(key, (-math.inf, None))
        if time.monotonic() - then < age_s:
            return cast(T, held)
        made = work()
        with self._lock:
            self._lately[key] = (time.monotonic(), made)
        return made

    def tags(self, paths: list[Path], wait_s: float | None = PATIENCE_S) -> Tags | None:
        """Return file name -> tags, None where reading them takes longer than wait_s."""
        files = tuple((path.name, signature_of(path.stat())) for path in paths)
        key = (str(paths[0].parent), files)
        with self._lock:
            if key not in self._tags:
                self._tags[key] = self._reader.submit(_read_tags, list(paths))
            future = self._tags[key]
        try:
            return future.result(wait_s)
        except StillRunningError:
            return None

    def close(self) -> None:
        """Stop everything that still runs."""
        with self._lock:
            jobs = [series.job for series in self._open.values() if series.job is not None]
            followed = list(self._following.values())
        for each in followed:
            each.stop()
        for job in jobs:
            job.cancel()
        self.compute.close()
        self._reader.shutdown(wait=False, cancel_futures=True)
        for job in jobs:
            job.join(5.0)


def _read_tags(paths: list[Path]) -> Tags:
    from profiler.frames.cache import MeasureCache, read_all_tags

    cache = MeasureCache()
    try:
        tags = read_all_tags(paths, cache)
        return {path.name: each for path, each in zip(paths, tags, strict=True)}
    finally:
        cache.close()
