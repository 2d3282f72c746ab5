"""The frames of a series measured in threads, each decoded once at most."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from profiler.errors import MeasureError
from profiler.frames.cache import MeasureCache
from profiler.records import FrameMeasure, FrameTags, Measurement, Mosaic, Patch

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Progress = Callable[[int, int], None]
AUTO = "auto"


@dataclass(frozen=True, kw_only=True)
class Shot:
    """A file to measure, with what has to be known before it is decoded.

    alike: frames with the same text were shot alike, so two of them make a pair; light: relative
    exposure of the frame, 0 for a dark one; cfa: order of the colours where no file tells it.
    """

    path: Path
    file: str
    tags: FrameTags
    alike: str
    light: float
    cfa: str = ""


def measure_frames(
    shots: Sequence[Shot],
    cache: MeasureCache,
    *,
    patch: str = AUTO,
    allow_8bit: bool = False,
    jobs: int = 2,
    preview: Path | None = None,
    progress: Progress | None = None,
) -> Measurement:
    """Return one measured frame per shot, in their order, from the cache where it has them.

    patch: AUTO, or X,Y,W,H as fractions of the visible frame. Pairs are decoded together, so that
    memory holds two frames a thread, however long the series is.
    """
    from profiler.frames.quiet import quiet_native_stderr

    with quiet_native_stderr():
        with ThreadPoolExecutor(jobs) as pool:
            hashes = cache.sha256_many([shot.path for shot in shots], pool)
        digests = dict(zip([shot.file for shot in shots], hashes, strict=True))
        key, place = _patch_key(shots, digests, cache, patch, allow_8bit, preview)
        known = {
            shot.file: cache.frame(digests[shot.file], _frame_key(key, shot)) for shot in shots
        }
        units = [unit for unit in _pairs(shots) if any(known[shot.file] is None for shot in unit)]
        total = sum(len(unit) for unit in units)
        measured: dict[str, FrameMeasure] = {
            file: replace(frame, file=file) for file, frame in known.items() if frame is not None
        }
        done = 0
        with ThreadPoolExecutor(jobs) as pool:
            jobs_running = [
                pool.submit(_measure_unit, unit, digests, place, allow_8bit) for unit in units
            ]
            try:
                for job, unit in zip(jobs_running, units, strict=True):
                    for shot, frame in zip(unit, job.result(), strict=True):
                        cache.keep_frame(frame, _frame_key(key, shot))
                        measured[shot.file] = frame
                    done += len(unit)
                    if progress is not None:
                        progress(done, total)
            except BaseException:
                pool.shutdown(wait=True, cancel_futures=True)
                raise
    names = {digest: file for file, digest in digests.items()}
    return Measurement(
        frames=tuple(
            replace(measured[shot.file], pair=names.get(measured[shot.file].pair, ""))
            for shot in shots
        ),
        patch=key.split("/", 1)[-1],
        decoded=total,
    )


def _frame_key(patch_key: str, shot: Shot) -> str:
    return f"{patch_key}/{shot.cfa}" if shot.cfa else patch_key


def _pairs(shots: Sequence[Shot]) -> Iterator[tuple[Shot, ...]]:
    """Equal frames two by two; what is left over comes alone."""
    groups: dict[str, list[Shot]] = {}
    for shot in shots:
        groups.setdefault(shot.alike or f"alone {shot.file}", []).append(shot)
    for group in groups.values():
        for start in range(0, len(group), 2):
            yield tuple(group[start : start + 2])


def _measure_unit(
    unit: tuple[Shot, ...],
    digests: Mapping[str, str],
    place: Callable[[Mosaic], Patch],
    allow_8bit: bool,
) -> list[FrameMeasure]:
    """One frame, or a pair with its temporal variance."""
    from profiler.frames.patch import pair_variance

    frames: list[FrameMeasure] = []
    pixels: list[tuple[NDArray[np.uint16], tuple[tuple[str, ...], ...]]] = []
    for shot in unit:
        frame, values, cfa = _measure_one(shot, digests[shot.file], place, allow_8bit)
        frames.append(frame)
        pixels.append((values, cfa))
    if len(frames) == 2 and pixels[0][1] == pixels[1][1]:
        (a, cfa), (b, _) = pixels
        if a.shape == b.shape and frames[0].sha256 != frames[1].sha256:
            pairs = pair_variance(a, b, cfa)
            frames = [
                replace(
                    frame,
                    pair=other.sha256,
                    channels={
                        name: replace(
                            channel, pair_n=pairs[name][0], temporal_variance_dn2=pairs[name][1]
                        )
                        for name, channel in frame.channels.items()
                    },
                )
                for frame, other in (frames, frames[::-1])
            ]
    return frames


def _measure_one(
    shot: Shot, sha256: str, place: Callable[[Mosaic], Patch], allow_8bit: bool
) -> tuple[FrameMeasure, NDArray[np.uint16], tuple[tuple[str, ...], ...]]:
    from profiler.frames.decode import open_mosaic
    from profiler.frames.patch import measure_patch
    from profiler.frames.tags import merge_native

    with open_mosaic(shot.path, shot.cfa or None, allow_8bit=allow_8bit) as mosaic:
        values = cut(mosaic, place(mosaic))
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
        cfa = mosaic.cfa
    return replace(frame, channels=measure_patch(values, cfa)), values, cfa


def cut(mosaic: Mosaic, patch: Patch) -> NDArray[np.uint16]:
    """Return a copy of the patch's pixels (height, width)."""
    rows = slice(patch.y, patch.y + patch.height)
    columns = slice(patch.x, patch.x + patch.width)
    return mosaic.values_dn[rows, columns].copy()


def _patch_key(
    shots: Sequence[Shot],
    digests: Mapping[str, str],
    cache: MeasureCache,
    patch: str,
    allow_8bit: bool,
    preview: Path | None,
) -> tuple[str, Callable[[Mosaic], Patch]]:
    """Cache key of the patch, and how to find it in a mosaic; shows it where a preview is asked."""
    from profiler.frames.target import find_patch, patch_from_fractions

    if patch != AUTO:
        key, place = f"fractions/{patch}", lambda mosaic: patch_from_fractions(patch, mosaic)
        if preview is not None:
            _show(shots, place, allow_8bit, preview)
        return key, place
    series = hashlib.sha256(" ".join(sorted(digests.values())).encode()).hexdigest()
    text = cache.text(f"auto/{series}")
    if text is None:
        with _reference(shots, allow_8bit) as mosaic:
            found = find_patch(mosaic)
        text = f"{found.x} {found.y} {found.width} {found.height}"
        cache.keep_text(f"auto/{series}", text)
    x, y, width, height = (int(part) for part in text.split())
    fixed = Patch(x=x, y=y, width=width, height=height)

    def place_fixed(mosaic: Mosaic) -> Patch:
        rows, columns = mosaic.values_dn.shape
        if x + width > columns or y + height > rows:
            raise MeasureError(
                f"the patch found in another frame lies outside this one ({columns} x {rows})",
                "the series",
                "Keep frames of one size in one folder",
            )
        return fixed

    if preview is not None:
        _show(shots, place_fixed, allow_8bit, preview)
    return f"pixels/{text}", place_fixed


def _show(
    shots: Sequence[Shot], place: Callable[[Mosaic], Patch], allow_8bit: bool, preview: Path
) -> None:
    from profiler.frames.preview import write_preview

    with _reference(shots, allow_8bit) as mosaic:
        write_preview(preview, mosaic, place(mosaic))


@contextmanager
def _reference(shots: Sequence[Shot], allow_8bit: bool) -> Iterator[Mosaic]:
    """Mosaic of a frame that is neither dark nor clipped, tried from the middle exposure out."""
    from profiler.frames.decode import open_mosaic

    lit = sorted((shot for shot in shots if shot.light > 0.0), key=lambda shot: shot.light)
    if not lit:
        raise MeasureError(
            "the series holds no lit frame", "the series", "Add frames of the grey target"
        )
    order = sorted(range(len(lit)), key=lambda i: abs(i - len(lit) // 2))
    for tried, i in enumerate(order, start=1):
        with open_mosaic(lit[i].path, lit[i].cfa or None, allow_8bit=allow_8bit) as mosaic:
            if _well_lit(mosaic) or tried == len(order):
                yield mosaic
                return


def _well_lit(mosaic: Mosaic) -> bool:
    """Whether the middle of the frame lies between a twentieth and four fifths of its range."""
    import numpy as np

    rows, columns = mosaic.values_dn.shape
    middle = mosaic.values_dn[rows // 3 : 2 * rows // 3 : 4, columns // 3 : 2 * columns // 3]
    white = max(mosaic.white_tag_dn.values(), default=float(np.max(mosaic.values_dn)))
    black = min(mosaic.black_tag_dn.values(), default=0.0)
    brightest = float(np.percentile(middle, 99.0))
    return black + 0.05 * (white - black) < brightest < black + 0.8 * (white - black)
