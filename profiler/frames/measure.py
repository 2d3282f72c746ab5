"""The frames of a series measured in threads, each decoded once at most."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from profiler.frames.cache import MeasureCache, check_unchanged
from profiler.frames.pairs import Both, Variances, both, candidates, choose, windows
from profiler.frames.pairs import variances as variances_of
from profiler.records import FrameMeasure, Measurement, Mosaic, Patch

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from profiler.frames.decode import RawMosaic
    from profiler.frames.samples import Samples
    from profiler.frames.series_patch import PatchPlace, Shot

Progress = Callable[[int, int], None]


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
    and pairs are kept apart in the cache: which ones pair follows from the shots alone.
    """
    from profiler.frames.kept_memory import kept_memory
    from profiler.frames.quiet import quiet_native_stderr
    from profiler.frames.series_patch import PatchPlace, series_key, write_patch_preview

    with quiet_native_stderr(), kept_memory(), ThreadPoolExecutor(jobs) as pool:
        hashes = list(cache.sha256_many([shot.path for shot in shots], pool))
        digests = dict(zip([shot.file for shot in shots], hashes, strict=True))
        series = series_key(hashes)
        place = PatchPlace(shots, patch, cache.text(series), allow_8bit)
        known: dict[str, FrameMeasure] = {}
        variances: dict[Both, Variances] = {}
        if place.key is not None:
            for shot in shots:
                frame = cache.frame(digests[shot.file], frame_key(place.key, shot))
                if frame is not None and (allow_8bit or not _has_8bit(frame)):
                    known[shot.file] = replace(frame, file=shot.file)
        all_units = _units(shots, place.reference)
        units = [
            unit
            for unit in all_units
            if not _all_known(unit, known, variances, cache, place.key or "")
        ]
        total = sum(len(unit) for unit in units)
        done = 0
        running = [pool.submit(_measure_unit, unit, digests, place, allow_8bit) for unit in units]
        try:
            for job, unit in zip(running, units, strict=True):
                frames, pairs = job.result()
                for shot, frame in zip(unit, frames, strict=True):
                    cache.keep_frame(frame, frame_key(place.key or "", shot))
                    known[shot.file] = frame
                for two, found in pairs.items():
                    cache.keep_text(pair_key(two, place.key or "", unit[0]), json.dumps(found))
                    variances[two] = found
                done += len(unit)
                if progress is not None:
                    progress(done, total)
        except BaseException as error:
            place.fail(error)
            pool.shutdown(wait=True, cancel_futures=True)
            raise
        if place.pixels:
            cache.keep_text(series, place.pixels)
        if preview is not None:
            write_patch_preview(preview, shots, place, allow_8bit)
    for unit in all_units:
        for a, b, pair in choose(unit, known, variances):
            known[a.file] = _paired(a, b.file, pair)
            known[b.file] = _paired(b, a.file, pair)
    return Measurement(
        frames=tuple(known[shot.file] for shot in shots),
        patch=(place.key or "").split("/", 1)[-1],
        decoded=total,
    )


def _has_8bit(frame: FrameMeasure) -> bool:
    """Whether the cache holds the frame only since 8 bits were allowed once."""
    return any(flag.name == "eight-bit" for flag in frame.flags)


def frame_key(patch_key: str, shot: Shot) -> str:
    """Return under which name of a patch the cache keeps a frame."""
    return f"{patch_key}/{shot.cfa}" if shot.cfa else patch_key


def pair_key(two: Both, patch_key: str, one: Shot) -> str:
    """Return under which name the cache keeps the variances of a pair."""
    return f"pair/{two[0]}/{two[1]}/{frame_key(patch_key, one)}"


def _all_known(
    unit: tuple[Shot, ...],
    known: Mapping[str, FrameMeasure],
    variances: dict[Both, Variances],
    cache: MeasureCache,
    patch_key: str,
) -> bool:
    """Whether the cache has the unit's frames with every pair that they can make; takes those."""
    if not all(shot.file in known for shot in unit):
        return False
    for a, b in candidates([known[shot.file] for shot in unit]):
        two = both(a, b)
        text = cache.text(pair_key(two, patch_key, unit[0]))
        if text is None:
            return False
        variances[two] = {name: (int(n), value) for name, (n, value) in json.loads(text).items()}
    return True


def _units(shots: Sequence[Shot], first: Shot | None) -> list[tuple[Shot, ...]]:
    """Frames of equal settings a few at a time, the others alone; that with `first` in front.

    The others by size, largest first: then nobody waits long for the patch, since the second thread
    has a long frame to decode meanwhile, and both threads end at nearly the same time.
    """
    groups: dict[str, list[Shot]] = {}
    for shot in shots:
        settings = f"{shot.alike}/{shot.cfa}" if shot.alike else f"alone {shot.file}"
        groups.setdefault(settings, []).append(shot)
    units = [window for group in groups.values() for window in windows(group)]
    return sorted(units, key=lambda unit: (first not in unit, -_size_bytes(unit)))


def _size_bytes(unit: tuple[Shot, ...]) -> int:
    return sum(shot.path.stat().st_size for shot in unit)


def _measure_unit(
    unit: tuple[Shot, ...], digests: Mapping[str, str], place: PatchPlace, allow_8bit: bool
) -> tuple[list[FrameMeasure], dict[Both, Variances]]:
    """The frames of a unit, with the temporal variances of those that may be pairs."""
    frames: dict[str, FrameMeasure] = {}
    patches: dict[str, dict[str, Samples]] = {}
    # the reference before its twin, which would wait for it in the same thread
    for shot in sorted(unit, key=lambda shot: shot is not place.reference):
        digest = digests[shot.file]
        try:
            frames[shot.file], patches[digest] = _measure_one(shot, digest, place, allow_8bit)
        except BaseException as error:
            place.fail(error)
            raise
    ordered = [frames[shot.file] for shot in unit]
    return ordered, variances_of(ordered, patches)


def _measure_one(
    shot: Shot, sha256: str, place: PatchPlace, allow_8bit: bool
) -> tuple[FrameMeasure, dict[str, Samples]]:
    from profiler.frames.decode import open_mosaic

    with open_mosaic(shot.path, shot.cfa or None, allow_8bit=allow_8bit) as mosaic:
        frame, samples, cfa_height = cut_patch(mosaic, shot, sha256, place)
    return with_statistics(frame, samples, cfa_height, shot), samples


def cut_patch(
    mosaic: RawMosaic, shot: Shot, sha256: str, place: PatchPlace
) -> tuple[FrameMeasure, dict[str, Samples], int]:
    """Return a frame without statistics yet, its patch's samples, and the height of a period.

    Nothing of it holds the mosaic, so that the next frame can be decoded into its memory.
    """
    from profiler.frames.cfa import cfa_text, period
    from profiler.frames.samples import split_channels
    from profiler.frames.tags import merge_native

    patch = place.of(mosaic, shot)
    frame = FrameMeasure(
        file=shot.file,
        sha256=sha256,
        tags=merge_native(shot.tags, mosaic.native),
        channels={},
        black_tag_dn=dict(mosaic.black_tag_dn),
        white_tag_dn=dict(mosaic.white_tag_dn),
        masked=dict(mosaic.masked),
        place=place.in_frame(patch, mosaic),
        flags=mosaic.flags,
        cfa=cfa_text(mosaic.cfa),
    )
    return frame, split_channels(cut(mosaic, patch), mosaic.cfa), period(mosaic.cfa)[0]


def with_statistics(
    frame: FrameMeasure, samples: Mapping[str, Samples], cfa_height: int, shot: Shot
) -> FrameMeasure:
    """Return the frame with what its samples tell; FrameError where its file changed meanwhile."""
    from profiler.frames.statistics import measure_channels

    check_unchanged(shot.path, shot.signature)
    return replace(frame, channels=measure_channels(samples, cfa_height))


def _paired(frame: FrameMeasure, other: str, pair: Variances) -> FrameMeasure:
    channels = {
        name: replace(channel, pair_n=pair[name][0], temporal_variance_dn2=pair[name][1])
        for name, channel in frame.channels.items()
    }
    return replace(frame, pair=other, channels=channels)


def cut(mosaic: Mosaic, patch: Patch) -> NDArray[np.uint16]:
    """Return the patch's pixels (height, width), a view that holds the whole frame."""
    rows = slice(patch.y, patch.y + patch.height)
    columns = slice(patch.x, patch.x + patch.width)
    return mosaic.values_dn[rows, columns]
