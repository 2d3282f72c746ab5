"""How the light lies over the whole frame, coarse enough to compare frames of a series."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from profiler.records import Mosaic, Place

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
    """Blocks (channel, row, column) averaged into so many rows and columns."""
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
