"""The frame averaged into blocks, fine to find the card, coarse to compare frames of a series."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from profiler import standards
from profiler.calibration.fit.quantiles import MAD_TO_SD
from profiler.frames.cfa import channels, period, phases
from profiler.records import Mosaic

if TYPE_CHECKING:
    from profiler.records import Place


@dataclass(frozen=True, kw_only=True)
class Blocks:
    """The frame in blocks: level above black in DN per channel, row and column."""

    level_dn: NDArray[np.float64]  # (channel, row, column)
    range_dn: NDArray[np.float64]  # same, range of the strips inside a block
    noise_dn: NDArray[np.float64]  # same, standard error of the level of one strip
    strips: int
    height: int
    width: int


def average_blocks(mosaic: Mosaic) -> Blocks:
    """Levels of at most 64 x 48 blocks, from about 8 strips in each, one CFA period high.

    Of the strips the highest and the lowest are left out, so that a hot pixel doesn't count.
    """
    high, wide = period(mosaic.cfa)
    columns, rows = (
        max(1, min(most, pixels // max(2 * step, standards.PATCH_BLOCK_PX)))
        for most, pixels, step in zip(
            standards.PATCH_GRID, mosaic.values_dn.shape[::-1], (wide, high), strict=True
        )
    )
    height = mosaic.values_dn.shape[0] // rows // high * high
    width = mosaic.values_dn.shape[1] // columns // wide * wide
    rows, columns = mosaic.values_dn.shape[0] // height, mosaic.values_dn.shape[1] // width
    strips = mosaic.values_dn[: rows * height, : columns * width].reshape(
        rows, height // high, high, columns * width
    )
    every = max(1, strips.shape[1] // standards.PATCH_STRIPS)
    strips = strips[:, every // 2 :: every]
    trim = 1 if strips.shape[1] >= 3 else 0
    levels, ranges, noises = [], [], []
    for channel in channels(mosaic.cfa):
        planes = [
            strips[:, :, i, j::wide].reshape(rows, -1, columns, width // wide)
            for i, j in phases(mosaic.cfa, channel)
        ]
        sums = np.array([plane.sum(axis=3, dtype=np.uint32) for plane in planes]).sum(axis=0)
        level = np.sort(sums, axis=1) / (len(planes) * planes[0].shape[3])
        inner = level[:, trim : level.shape[1] - trim]
        levels.append(inner.mean(axis=1) - mosaic.black_tag_dn.get(channel, 0.0))
        ranges.append(inner[:, -1] - inner[:, 0])
        samples = len(planes) * (width // wide)
        noises.append(_noise(planes[0][:, strips.shape[1] // 2]) / math.sqrt(samples))
    return Blocks(
        level_dn=np.array(levels),
        range_dn=np.array(ranges),
        noise_dn=np.array(noises),
        strips=strips.shape[1],
        height=height,
        width=width,
    )


def _noise(plane: NDArray[np.uint16]) -> NDArray[np.float64]:
    """Robust standard deviation of the pixels of each block, by the differences of neighbours."""
    if plane.shape[2] < 2:
        return np.zeros(plane.shape[:2])
    steps = np.abs(np.diff(plane.astype(np.int32), axis=2))
    deviation: NDArray[np.float64] = MAD_TO_SD / math.sqrt(2.0) * np.median(steps, axis=2)
    return deviation


ROWS: Final = 24
COLUMNS: Final = 32
_TOP_PART: Final = 0.9
"""Of the range: a cell above it may hold clipped pixels."""
_FLOOR_PART: Final = 1.0 / 256.0
"""Of the range: below it flare and noise rule."""


@dataclass(frozen=True, kw_only=True)
class LightShape:
    """Level of each cell of the frame over that of the patch, (rows, columns), as log2.

    NaN where a cell is too dark or may have clipped. inside: which cells the patch covers.
    """

    stops: NDArray[np.float64]
    inside: NDArray[np.bool_]


def light_shape(mosaic: Mosaic, place: Place | None) -> LightShape | None:
    """Return the shape of the light, by the channel that has most of it; None without a patch.

    A patch that was given by hand has no place, and the frame's middle stands for it.
    """
    from profiler.frames.blocks import average_blocks

    levels = average_blocks(mosaic).level_dn
    rows, columns = min(ROWS, levels.shape[1]), min(COLUMNS, levels.shape[2])
    coarse = _coarser(levels, rows, columns)
    inside = _covered(place, rows, columns)
    white = max(mosaic.white_tag_dn.values(), default=65535.0)
    black = min(mosaic.black_tag_dn.values(), default=0.0)
    usable = (coarse > _FLOOR_PART * (white - black)) & (coarse < _TOP_PART * (white - black))
    # the brightest channel whose patch hasn't clipped has the least noise
    patch = [float(np.median(each[inside])) if inside.any() else np.nan for each in coarse]
    good = [k for k in range(len(patch)) if bool(usable[k][inside].all()) and patch[k] > 0.0]
    if not good:
        return None
    k = max(good, key=lambda each: patch[each])
    with np.errstate(invalid="ignore", divide="ignore"):
        stops = np.where(usable[k], np.log2(coarse[k] / patch[k]), np.nan)
    return LightShape(stops=stops, inside=inside)


def _coarser(levels: NDArray[np.float64], rows: int, columns: int) -> NDArray[np.float64]:
    """Blocks (channel, row, column) averaged into the given number of rows and columns."""
    for axis, wanted in ((1, rows), (2, columns)):
        edges = np.arange(wanted) * levels.shape[axis] // wanted
        counts = np.diff([*edges, levels.shape[axis]])
        shape = [1, 1, 1]
        shape[axis] = wanted
        levels = np.add.reduceat(levels, edges, axis=axis) / counts.reshape(shape)
    return levels


def _covered(place: Place | None, rows: int, columns: int) -> NDArray[np.bool_]:
    """Cells whose middle lies on the patch; the one nearest to its middle at least."""
    x, y, width, height = (0.5, 0.5, 0.2, 0.2)
    if place is not None:
        x, y, width, height = place.x, place.y, place.width, place.height
    row, column = np.mgrid[:rows, :columns]
    inside = (np.abs((column + 0.5) / columns - x) <= 0.5 * width) & (
        np.abs((row + 0.5) / rows - y) <= 0.5 * height
    )
    inside[min(int(y * rows), rows - 1), min(int(x * columns), columns - 1)] = True
    covered: NDArray[np.bool_] = inside
    return covered
