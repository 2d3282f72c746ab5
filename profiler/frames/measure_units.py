"""Frames decoded and measured in threads, a few equal ones at a time."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from profiler.frames.cache import check_unchanged
from profiler.frames.pairs import Both, Variances
from profiler.frames.pairs import variances as variances_of
from profiler.frames.series_patch import PatchPlace
from profiler.records import FrameMeasure, Mosaic, Patch

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from profiler.frames.decode import RawMosaic
    from profiler.frames.samples import Samples
    from profiler.frames.series_patch import Shot


@dataclass(frozen=True, kw_only=True)
class UnitDone:
    """The frames of a unit, and the temporal variances of those that may be pairs.

    pixels: the patch of the series, empty for one given by hand.
    """

    frames: tuple[FrameMeasure, ...]
    pairs: Mapping[Both, Variances]
    pixels: str


def measure_units(
    tell: Callable[[UnitDone], None],
    units: Sequence[tuple[Shot, ...]],
    shots: Sequence[Shot],
    patch: str,
    pixels: str | None,
    allow_8bit: bool,
    jobs: int,
) -> None:
    """Tell the measures of units as they are done, in so many threads.

    shots: those of the whole series, among which the patch is looked for where `pixels` doesn't
    give it; the first unit holds the frame of the middle exposure then. FrameError names the first
    file that can't be measured.
    """
    place = PatchPlace(shots, patch, pixels, allow_8bit)

    def work(unit: tuple[Shot, ...]) -> None:
        tell(_measure_unit(unit, place, allow_8bit))

    with ThreadPoolExecutor(jobs) as pool:
        running = [pool.submit(work, unit) for unit in units]
        try:
            for job in running:
                job.result()
        except BaseException as error:
            place.fail(error)
            pool.shutdown(wait=True, cancel_futures=True)
            raise


def _measure_unit(unit: tuple[Shot, ...], place: PatchPlace, allow_8bit: bool) -> UnitDone:
    frames: dict[str, FrameMeasure] = {}
    patches: dict[str, dict[str, Samples]] = {}
    # the reference before its twin, which would wait for it in the same thread
    for shot in sorted(unit, key=lambda shot: shot is not place.reference):
        try:
            frame, samples = _measure_one(shot, place, allow_8bit)
        except BaseException as error:
            place.fail(error)
            raise
        frames[shot.file], patches[frame.sha256] = frame, samples
    ordered = [frames[shot.file] for shot in unit]
    pairs = variances_of(ordered, patches)
    return UnitDone(frames=tuple(ordered), pairs=pairs, pixels=place.pixels)


def _measure_one(
    shot: Shot, place: PatchPlace, allow_8bit: bool
) -> tuple[FrameMeasure, dict[str, Samples]]:
    from profiler.frames.decode import open_mosaic

    try:
        with open_mosaic(shot.path, shot.cfa or None, allow_8bit=allow_8bit) as mosaic:
            frame, samples, cfa_height = cut_patch(mosaic, shot, place)
        return with_statistics(frame, samples, cfa_height, shot), samples
    except MemoryError as error:
        raise MemoryError(shot.path) from error


def cut_patch(
    mosaic: RawMosaic, shot: Shot, place: PatchPlace
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
        sha256=mosaic.sha256,
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


def cut(mosaic: Mosaic, patch: Patch) -> NDArray[np.uint16]:
    """Return the patch's pixels (height, width), a view that holds the whole frame."""
    rows = slice(patch.y, patch.y + patch.height)
    columns = slice(patch.x, patch.x + patch.width)
    return mosaic.values_dn[rows, columns]
