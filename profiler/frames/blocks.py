"""The frame averaged into blocks."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler import standards
from profiler.frames.cfa import channels, period, phases
from profiler.records import Mosaic


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
    deviation: NDArray[np.float64] = 1.4826 / math.sqrt(2.0) * np.median(steps, axis=2)
    return deviation
