"""A small picture of the frame that shows where the patch lies."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from profiler import standards
from profiler.files.atomic import write_whole
from profiler.frames.cfa import period
from profiler.records import Mosaic, Patch

_WIDEST_PX = 800
_GAMMA = 2.2
_PILED = 0.002
"""Part of a frame's pixels at its highest code that is a pile (our choice, no source)."""
_CLIPPED_SHARE = 0.2
_STRIPE_PX = 4
_CELLS = (6, 8)
_RAISED = 8.0
"""How many times differences across the patch are raised: 1 % then shows as 8 %."""
_LIFTED = 4095.0


def write_preview(path_png: str | Path, mosaic: Mosaic, patch: Patch) -> None:
    """Nothing: writes a grey PNG at most 800 px wide with the patch outlined in black on white.

    Blocks of whole CFA periods are averaged; the patch is shown as grey as a grey card, with a
    gamma of 2.2. Clipped pixels are striped. Inside the outline the contrast is raised, cell by
    cell, so that glare and uneven light on the card are seen. The file appears whole or not at all;
    an older one is kept beside it.
    """
    picture, scale = _grey(mosaic, patch)
    _show_evenness(picture, mosaic, patch, scale)
    _outline(picture, patch, scale)
    write_whole(Path(path_png), png_bytes(picture), replace=True)


def png_bytes(grey: NDArray[np.uint8]) -> bytes:
    """Return an 8-bit grey picture as PNG."""
    import imageio.v3 as iio

    content: bytes = iio.imwrite("<bytes>", grey, plugin="pillow", extension=".png")
    return content


def _grey(mosaic: Mosaic, patch: Patch) -> tuple[NDArray[np.uint8], tuple[float, float]]:
    """The picture in 8 bits, and how many rows and columns of the frame one of its pixels shows."""
    mean, (block_h, block_w) = shrink(mosaic, _WIDEST_PX)
    rows, columns = (
        slice(start, start + length)
        for start, length in ((patch.y, patch.height), (patch.x, patch.width))
    )
    black = black_of(mosaic)
    white = white_for_card(float(np.median(mosaic.values_dn[rows, columns])), black)
    grey = eight_bits(mean, black, white)
    times = max(1, _WIDEST_PX // 2 // grey.shape[1])  # small frames are shown larger
    larger = np.ones((times, times), np.uint8)
    picture = np.kron(grey, larger)
    stripe(picture, np.kron(clipped_blocks(mosaic, _WIDEST_PX), larger).astype(bool))
    return picture, (block_h / times, block_w / times)


def shrink(mosaic: Mosaic, widest_px: int) -> tuple[NDArray[np.float32], tuple[int, int]]:
    """Return means of blocks of whole CFA periods, in DN, and rows and columns of a block."""
    blocks, size = _blocks(mosaic, mosaic.values_dn, widest_px)
    return blocks.mean(axis=3, dtype=np.float32).mean(axis=1), size


def clipped_blocks(mosaic: Mosaic, widest_px: int) -> NDArray[np.bool_]:
    """Return the blocks of `shrink` in which pixels are clipped, a fifth of them at least.

    Where the file states no white level nothing is called clipped.
    """
    over = mosaic.values_dn >= _clip_level(mosaic)
    blocks, _ = _blocks(mosaic, over, widest_px)
    found: NDArray[np.bool_] = blocks.mean(axis=3, dtype=np.float32).mean(axis=1) >= _CLIPPED_SHARE
    return found


def _clip_level(mosaic: Mosaic) -> float:
    """The white level that the file states, or the lower code at which a bright frame piles up."""
    if not mosaic.white_tag_dn:
        return math.inf
    white, top = float(min(mosaic.white_tag_dn.values())), float(mosaic.values_dn.max())
    middle = 0.5 * (white + black_of(mosaic))
    if middle < top < white and np.count_nonzero(mosaic.values_dn == top) >= (
        _PILED * mosaic.values_dn.size
    ):
        return top
    return white


def stripe(picture: NDArray[np.uint8], where: NDArray[np.bool_]) -> None:
    """Draw diagonal stripes, black and white, over part of a picture."""
    rows, columns = np.arange(picture.shape[0]), np.arange(picture.shape[1])
    dark = np.add.outer(rows, columns) // _STRIPE_PX % 2 == 0
    picture[where & dark] = 0
    picture[where & ~dark] = 255


def evenness(mosaic: Mosaic, patch: Patch) -> NDArray[np.float64]:
    """Return the light in 6 by 8 cells of a patch over its median, above black; 1 where alike.

    Cells hold whole CFA periods, so that colours count alike in each.
    """
    step_y, step_x = period(mosaic.cfa)
    high = max(patch.height // _CELLS[0] // step_y, 1) * step_y
    wide = max(patch.width // _CELLS[1] // step_x, 1) * step_x
    rows, columns = min(_CELLS[0], patch.height // high), min(_CELLS[1], patch.width // wide)
    cut = mosaic.values_dn[
        patch.y : patch.y + rows * high, patch.x : patch.x + columns * wide
    ].reshape(rows, high, columns, wide)
    means = cut.mean(axis=3, dtype=np.float64).mean(axis=1)
    above = means - black_of(mosaic)
    ratio: NDArray[np.float64] = above / max(float(np.median(above)), 1e-9)
    return ratio


def _show_evenness(
    picture: NDArray[np.uint8], mosaic: Mosaic, patch: Patch, scale: tuple[float, float]
) -> None:
    """Fills the patch with its cells, their differences from the median raised."""
    if min(patch.height, patch.width) < _CELLS[1] * max(period(mosaic.cfa)):
        return
    top, bottom = _ends(patch.y, patch.height, scale[0], picture.shape[0])
    left, right = _ends(patch.x, patch.width, scale[1], picture.shape[1])
    light = standards.GREY_REFLECTANCE.value * (1.0 + _RAISED * (evenness(mosaic, patch) - 1.0))
    cells = np.rint(255.0 * np.clip(light, 0.01, 0.9) ** (1.0 / _GAMMA)).astype(np.uint8)
    down = np.linspace(0, cells.shape[0], bottom - top + 1, endpoint=False).astype(int)
    across = np.linspace(0, cells.shape[1], right - left + 1, endpoint=False).astype(int)
    picture[top : bottom + 1, left : right + 1] = cells[np.ix_(down, across)]


def _blocks(
    mosaic: Mosaic, values: NDArray[Any], widest_px: int
) -> tuple[NDArray[Any], tuple[int, int]]:
    """Values in blocks of whole CFA periods, (rows, within, columns, within), and their size."""
    high, wide = period(mosaic.cfa)
    height, width = mosaic.values_dn.shape
    side = max(1, -(-width // widest_px))
    block_h, block_w = -(-side // high) * high, -(-side // wide) * wide
    rows, columns = height // block_h, width // block_w
    cut = values[: rows * block_h, : columns * block_w]
    return cut.reshape(rows, block_h, columns, block_w), (block_h, block_w)


def black_of(mosaic: Mosaic) -> float:
    """Return the lowest black level that the file states, in DN; 0 where it states none."""
    return min(mosaic.black_tag_dn.values(), default=0.0)


def eight_bits(mean_dn: NDArray[np.float32], black_dn: float, white_dn: float) -> NDArray[np.uint8]:
    """Return levels from black to white as 0 to 255, with a gamma of 2.2."""
    share = np.clip((mean_dn - black_dn) / (white_dn - black_dn), 0.0, 1.0)
    grey: NDArray[np.uint8] = np.rint(255.0 * share ** (1.0 / _GAMMA)).astype(np.uint8)
    return grey


def lifted(mean_dn: NDArray[np.float32], black_dn: float, white_dn: float) -> NDArray[np.uint8]:
    """Return levels as 0 to 255 by their logarithm over twelve stops below white.

    A frame eight stops under clip is then seen, while one under the lens cap stays black.
    """
    share = np.clip((mean_dn - black_dn) / (white_dn - black_dn), 0.0, 1.0)
    grey: NDArray[np.uint8] = np.rint(
        255.0 * np.log2(1.0 + _LIFTED * share) / np.log2(1.0 + _LIFTED)
    ).astype(np.uint8)
    return grey


def white_for_card(card_dn: float, black_dn: float) -> float:
    """Return the level, in DN, to show white so that a grey card looks grey."""
    return black_dn + max(1.0, (card_dn - black_dn) / standards.GREY_REFLECTANCE.value)


def _outline(picture: NDArray[np.uint8], patch: Patch, scale: tuple[float, float]) -> None:
    """Draws a white frame around the patch with a black one around that, seen on any ground."""
    top, bottom = _ends(patch.y, patch.height, scale[0], picture.shape[0])
    left, right = _ends(patch.x, patch.width, scale[1], picture.shape[1])
    for tone, reach in ((0, 2), (255, 1)):
        rows, columns = (top - reach, bottom + reach), (left - reach, right + reach)
        picture[rows[0] : rows[1] + 1, columns] = tone
        picture[rows, columns[0] : columns[1] + 1] = tone


def _ends(start: int, length: int, scale: float, pixels: int) -> tuple[int, int]:
    """First and last pixel of the patch in the picture, with room for the frame around it."""
    first = min(max(2, round(start / scale)), pixels - 4)
    return first, min(max(first + 1, round((start + length) / scale) - 1), pixels - 3)
