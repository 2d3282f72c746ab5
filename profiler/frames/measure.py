"""The frames of a series measured in threads, each decoded once at most."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from profiler.frames.cache import MeasureCache
from profiler.records import FrameMeasure, Measurement, Mosaic, Patch

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from profiler.frames.place import PatchPlace, Shot
    from profiler.frames.samples import Samples

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

    patch: "auto", or X,Y,W,H as fractions of the visible frame. Pairs are decoded together, so
    that memory holds one frame a thread, and two patches, however long the series is.
    """
    from profiler.frames.kept_memory import kept_memory
    from profiler.frames.place import PatchPlace, series_key, write_patch_preview
    from profiler.frames.quiet import quiet_native_stderr

    with quiet_native_stderr(), kept_memory(), ThreadPoolExecutor(jobs) as pool:
        hashes = list(cache.sha256_many([shot.path for shot in shots], pool))
        digests = dict(zip([shot.file for shot in shots], hashes, strict=True))
        series = series_key(hashes)
        place = PatchPlace(shots, patch, cache.text(series), allow_8bit)
        known: dict[str, FrameMeasure] = {}
        if place.key is not None:
            for shot in shots:
                frame = cache.frame(digests[shot.file], _frame_key(place.key, shot))
                if frame is not None:
                    known[shot.file] = replace(frame, file=shot.file)
        units = [unit for unit in _units(shots, place.reference) if not _all_known(unit, known)]
        total = sum(len(unit) for unit in units)
        done = 0
        running = [pool.submit(_measure_unit, unit, digests, place, allow_8bit) for unit in units]
        try:
            for job, unit in zip(running, units, strict=True):
                for shot, frame in zip(unit, job.result(), strict=True):
                    cache.keep_frame(frame, _frame_key(place.key or "", shot))
                    known[shot.file] = frame
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
    names = {digest: file for file, digest in digests.items()}
    return Measurement(
        frames=tuple(
            replace(known[shot.file], pair=names.get(known[shot.file].pair, "")) for shot in shots
        ),
        patch=(place.key or "").split("/", 1)[-1],
        decoded=total,
    )


def _frame_key(patch_key: str, shot: Shot) -> str:
    return f"{patch_key}/{shot.cfa}" if shot.cfa else patch_key


def _all_known(unit: tuple[Shot, ...], known: Mapping[str, FrameMeasure]) -> bool:
    return all(shot.file in known for shot in unit)


def _units(shots: Sequence[Shot], first: Shot | None) -> list[tuple[Shot, ...]]:
    """Equal frames two by two, what is left over alone; the unit that holds `first` in front.

    The others by size, largest first: then nobody waits long for the patch, since the second thread
    has a long frame to decode meanwhile, and both threads end at nearly the same time.
    """
    groups: dict[str, list[Shot]] = {}
    for shot in shots:
        groups.setdefault(shot.alike or f"alone {shot.file}", []).append(shot)
    units = [
        tuple(group[start : start + 2])
        for group in groups.values()
        for start in range(0, len(group), 2)
    ]
    return sorted(units, key=lambda unit: (first not in unit, -_size_bytes(unit)))


def _size_bytes(unit: tuple[Shot, ...]) -> int:
    return sum(shot.path.stat().st_size for shot in unit)


def _measure_unit(
    unit: tuple[Shot, ...], digests: Mapping[str, str], place: PatchPlace, allow_8bit: bool
) -> list[FrameMeasure]:
    """One frame, or a pair with its temporal variance."""
    from profiler.frames.patch import variance_of_pair
    from profiler.frames.samples import laid_out_alike

    frames: list[FrameMeasure] = []
    patches: list[dict[str, Samples]] = []
    # the reference before its twin, which would wait for it in the same thread
    for shot in sorted(unit, key=lambda shot: shot is not place.reference):
        try:
            frame, samples = _measure_one(shot, digests[shot.file], place, allow_8bit)
        except BaseException as error:
            place.fail(error)
            raise
        frames.append(frame)
        patches.append(samples)
    if len(frames) == 2 and frames[0].sha256 != frames[1].sha256 and laid_out_alike(*patches):
        pairs = variance_of_pair(*patches)
        frames = [_paired(frames[0], frames[1], pairs), _paired(frames[1], frames[0], pairs)]
    return sorted(frames, key=lambda frame: [shot.file for shot in unit].index(frame.file))


def _measure_one(
    shot: Shot, sha256: str, place: PatchPlace, allow_8bit: bool
) -> tuple[FrameMeasure, dict[str, Samples]]:
    from profiler.frames.cfa import period
    from profiler.frames.decode import open_mosaic
    from profiler.frames.patch import measure_channels
    from profiler.frames.samples import split_channels
    from profiler.frames.tags import merge_native

    with open_mosaic(shot.path, shot.cfa or None, allow_8bit=allow_8bit) as mosaic:
        samples = split_channels(cut(mosaic, place.of(mosaic, shot)), mosaic.cfa)
        frame = FrameMeasure(
            file=shot.file,
            sha256=sha256,
            tags=merge_native(shot.tags, mosaic.native),
            channels={},
            black_tag_dn=dict(mosaic.black_tag_dn),
            white_tag_dn=dict(mosaic.white_tag_dn),
            masked=dict(mosaic.masked),
            flags=mosaic.flags,
        )
        cfa_height = period(mosaic.cfa)[0]
    return replace(frame, channels=measure_channels(samples, cfa_height)), samples


def _paired(
    frame: FrameMeasure, other: FrameMeasure, pairs: Mapping[str, tuple[int, float]]
) -> FrameMeasure:
    channels = {
        name: replace(channel, pair_n=pairs[name][0], temporal_variance_dn2=pairs[name][1])
        for name, channel in frame.channels.items()
    }
    return replace(frame, pair=other.sha256, channels=channels)


def cut(mosaic: Mosaic, patch: Patch) -> NDArray[np.uint16]:
    """Return the patch's pixels (height, width), a view that holds the whole frame."""
    rows = slice(patch.y, patch.y + patch.height)
    columns = slice(patch.x, patch.x + patch.width)
    return mosaic.values_dn[rows, columns]
