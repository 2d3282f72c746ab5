"""The frames of a series measured, each decoded once at most."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from profiler.errors import GreytareError
from profiler.frames.cache import MeasureCache
from profiler.frames.decoder import DecoderDied, decode_apart, room_for, undecodable
from profiler.frames.measure_units import UnitDone, measure_units
from profiler.frames.pairs import Both, Variances, both, candidates, choose, windows
from profiler.frames.series_patch import (
    AUTO,
    draw_patch,
    from_the_middle,
    patch_key,
    series_key,
)
from profiler.records import Flag, FrameMeasure, Measurement

if TYPE_CHECKING:
    from profiler.frames.series_patch import Shot

Progress = Callable[[int, int], None]
Unit = tuple["Shot", ...]
Take = Callable[[UnitDone], None]


def measure_frames(
    shots: Sequence[Shot],
    cache: MeasureCache,
    *,
    patch: str,
    allow_8bit: bool = False,
    jobs: int = 2,
    preview: Path | None = None,
    progress: Progress | None = None,
) -> Measurement:
    """Return one measured frame per shot, in their order, from the cache where it has them.

    patch: "auto", or X,Y,W,H as fractions of the visible frame. Equal frames are decoded together,
    so that memory holds one frame a thread, and a few patches, however long the series is. Frames
    and pairs are kept apart in the cache: which ones pair follows from the shots alone. A frame
    that the decoder doesn't survive is lost, and the others are measured.
    """
    series = _Series(shots, cache, patch, allow_8bit)
    left = [unit for unit in series.units if not series.all_known(unit)]
    total, done = sum(len(unit) for unit in left), 0

    def take(news: UnitDone) -> None:
        nonlocal done
        done += series.take(news)
        if progress is not None:
            progress(done, total)

    while left:
        series.check_lit()
        series.measure(left, jobs, take)
        left = [unit for unit in series.units if not series.all_known(unit)]
    series.check_lit()
    if total:
        series.keep_place()
    if preview is not None:
        series.draw(preview)
    return series.measurement(decoded=done)


class _Series:
    """What is known of a series so far; units: shots measured together; lost: file -> how."""

    def __init__(
        self, shots: Sequence[Shot], cache: MeasureCache, patch: str, allow_8bit: bool
    ) -> None:
        self._shots = [replace(shot, path=shot.path.absolute()) for shot in shots]
        self._cache, self._patch, self._allow_8bit = cache, patch, allow_8bit
        self._began_ns = time.time_ns()
        digests = cache.digests([shot.path for shot in self._shots])
        self._digests = {s.file: d for s, d in zip(self._shots, digests, strict=True)}
        self._known: dict[str, FrameMeasure] = {}
        self._variances: dict[Both, Variances] = {}
        self._lost: dict[str, str] = {}
        self._careful = False
        self._pixels = self._remembered()
        self.units = _units(self._shots)
        for shot in self._shots:
            digest = self._digests[shot.file]
            if digest is not None and self._key:
                frame = cache.frame(digest, frame_key(self._key, shot))
                if frame is not None and (allow_8bit or not _has_8bit(frame)):
                    self._known[shot.file] = replace(frame, file=shot.file)

    @property
    def _key(self) -> str:
        """Name of the patch in the cache, empty before it is found."""
        return patch_key(self._patch, self._pixels) or ""

    def _remembered(self) -> str | None:
        """The patch in pixels that was found in these frames before."""
        digests = [digest for digest in self._digests.values() if digest is not None]
        if self._patch != AUTO or len(digests) < len(self._shots):
            return None
        return self._cache.text(series_key(digests))

    def keep_place(self) -> None:
        """Let the cache remember the patch that was found in these frames."""
        for shot in self._shots:
            if self._digests[shot.file] is None:  # it was lost
                self._digests[shot.file] = self._cache.digest(shot.path)
        if self._pixels:
            self._cache.keep_text(series_key(d or "" for d in self._digests.values()), self._pixels)

    def all_known(self, unit: Unit) -> bool:
        """Return whether the unit's frames are known with every pair that they can make."""
        if not all(shot.file in self._known for shot in unit):
            return False
        for a, b in candidates([self._known[shot.file] for shot in unit]):
            two = both(a, b)
            if two not in self._variances:
                text = self._cache.text(pair_key(two, self._key, unit[0]))
                if text is None:
                    return False
                self._variances[two] = {k: (int(n), v) for k, (n, v) in json.loads(text).items()}
        return True

    def check_lit(self) -> None:
        """Raise the error that names a lost frame, where no lit one is left to find the patch."""
        alive = self._alive()
        if self._lost and (not alive or (self._patch == AUTO and all(s.light <= 0 for s in alive))):
            raise undecodable(*next(iter(self._lost.items())))

    def measure(self, left: Sequence[Unit], jobs: int, take: Take) -> None:
        """Measure units until all are done or the decoder dies.

        After its first death frames are decoded one at a time, since with several at work it isn't
        clear which one it died of, and it may have been killed by somebody else.
        """
        jobs = 1 if self._careful else jobs
        alive = self._alive()
        reference = None if self._key else from_the_middle(alive)[0]
        ordered = sorted(left, key=lambda unit: (reference not in unit, -_size_bytes(unit)))
        room = room_for([shot.path for unit in left for shot in unit], jobs)
        args = (ordered, alive, self._patch, self._pixels, self._allow_8bit, jobs)
        try:
            decode_apart(measure_units, *args, room_bytes=room, news=take)
        except DecoderDied as died:
            if len(died.busy) == 1 and (self._careful or died.sure):
                self._lose(died.busy[0], died.how)
            elif self._careful:
                _give_up(died)
            self._careful = True

    def take(self, news: UnitDone) -> int:
        """Keep what the decoder tells; return the number of frames measured."""
        unit = next(u for u in self.units if u[0].file == news.frames[0].file)
        if self._patch == AUTO:
            self._pixels = news.pixels
        for shot, frame in zip(unit, news.frames, strict=True):
            self._cache.keep_digest(shot.path, shot.signature, self._began_ns, frame.sha256)
            self._cache.keep_tags(frame.sha256, shot.tags)
            self._cache.keep_frame(frame, frame_key(self._key, shot))
            self._known[shot.file] = frame
            self._digests[shot.file] = frame.sha256
        for two, found in news.pairs.items():
            self._cache.keep_text(pair_key(two, self._key, unit[0]), json.dumps(found))
            self._variances[two] = found
        return len(unit)

    def draw(self, path: Path) -> None:
        """Draw the patch into a picture of a well-lit frame."""
        args = (path.absolute(), self._alive(), self._patch, self._pixels, self._allow_8bit)
        room = room_for([shot.path for shot in self._shots], 1)
        try:
            decode_apart(draw_patch, *args, room_bytes=room)
        except DecoderDied as died:
            _give_up(died)

    def measurement(self, decoded: int) -> Measurement:
        """Return the frames with their pairs, and flags for those that were lost."""
        for unit in self.units:
            for a, b, pair in choose(unit, self._known, self._variances):
                self._known[a.file] = _paired(a, b.file, pair)
                self._known[b.file] = _paired(b, a.file, pair)
        return Measurement(
            frames=tuple(self._known[shot.file] for shot in self._alive()),
            patch=self._key.split("/", 1)[-1],
            decoded=decoded,
            lost=tuple(
                Flag(name="decoder-died", size=1.0, unit="frame", where=file, detail=how)
                for file, how in sorted(self._lost.items())
            ),
        )

    def _alive(self) -> list[Shot]:
        return [shot for shot in self._shots if shot.file not in self._lost]

    def _lose(self, path: Path, how: str) -> None:
        file = next(shot.file for shot in self._alive() if shot.path == path)
        self._lost[file] = how
        without = [tuple(shot for shot in unit if shot.file != file) for unit in self.units]
        self.units = [unit for unit in without if unit]


def _give_up(died: DecoderDied) -> NoReturn:
    if died.busy:
        raise undecodable(died.busy[0].name, died.how) from died
    raise GreytareError(
        f"{died.how} before it had a frame",
        "the process that decodes",
        "Check that the machine has memory left, then measure again",
    ) from died


def _has_8bit(frame: FrameMeasure) -> bool:
    """Whether the cache holds the frame only since 8 bits were allowed once."""
    return any(flag.name == "eight-bit" for flag in frame.flags)


def frame_key(patch_key: str, shot: Shot) -> str:
    """Return under which name of a patch the cache keeps a frame."""
    return f"{patch_key}/{shot.cfa}" if shot.cfa else patch_key


def pair_key(two: Both, patch_key: str, one: Shot) -> str:
    """Return under which name the cache keeps the variances of a pair."""
    return f"pair/{two[0]}/{two[1]}/{frame_key(patch_key, one)}"


def _units(shots: Sequence[Shot]) -> list[Unit]:
    """Frames of equal settings a few at a time, the others alone."""
    groups: dict[str, list[Shot]] = {}
    for shot in shots:
        settings = f"{shot.alike}/{shot.cfa}" if shot.alike else f"alone {shot.file}"
        groups.setdefault(settings, []).append(shot)
    return [window for group in groups.values() for window in windows(group)]


def _size_bytes(unit: Unit) -> int:
    """Size by which units are decoded, largest first, after that with the patch's frame.

    Then nobody waits long for the patch, since the second thread has a long frame to decode
    meanwhile, and both threads end at nearly the same time.
    """
    return sum(shot.path.stat().st_size for shot in unit)


def _paired(frame: FrameMeasure, other: str, pair: Variances) -> FrameMeasure:
    channels = {
        name: replace(channel, pair_n=pair[name][0], temporal_variance_dn2=pair[name][1])
        for name, channel in frame.channels.items()
    }
    return replace(frame, pair=other, channels=channels)
