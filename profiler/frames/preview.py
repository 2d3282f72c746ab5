"""A small picture of the frame that shows where the patch lies."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from profiler import standards
from profiler.files.atomic import write_whole
from profiler.frames.cfa import period
from profiler.records import Mosaic, Patch

_WIDEST_PX = 800
_GAMMA = 2.2


def write_preview(path_png: str | Path, mosaic: Mosaic, patch: Patch) -> None:
    """Nothing: writes a grey PNG at most 800 px wide with the patch outlined in black on white.

    Blocks of whole CFA periods are averaged; the patch is shown as grey as a grey card, so that
    glare and uneven light on it are seen, with a gamma of 2.2. The file appears whole or not at
    all; an older one is kept beside it.
    """
    picture, scale = _grey(mosaic, patch)
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
    return np.kron(grey, np.ones((times, times), np.uint8)), (block_h / times, block_w / times)


def shrink(mosaic: Mosaic, widest_px: int) -> tuple[NDArray[np.float32], tuple[int, int]]:
    """Return means of blocks of whole CFA periods, in DN, and rows and columns of a block."""
    high, wide = period(mosaic.cfa)
    height, width = mosaic.values_dn.shape
    side = max(1, -(-width // widest_px))
    block_h, block_w = -(-side // high) * high, -(-side // wide) * wide
    rows, columns = height // block_h, width // block_w
    blocks = mosaic.values_dn[: rows * block_h, : columns * block_w].reshape(
        rows, block_h, columns, block_w
    )
    return blocks.mean(axis=3, dtype=np.float32).mean(axis=1), (block_h, block_w)


def black_of(mosaic: Mosaic) -> float:
    """Return the lowest black level that the file states, in DN; 0 where it states none."""
    return min(mosaic.black_tag_dn.values(), default=0.0)


def eight_bits(mean_dn: NDArray[np.float32], black_dn: float, white_dn: float) -> NDArray[np.uint8]:
    """Return levels from black to white as 0 to 255, with a gamma of 2.2."""
    share = np.clip((mean_dn - black_dn) / (white_dn - black_dn), 0.0, 1.0)
    grey: NDArray[np.uint8] = np.rint(255.0 * share ** (1.0 / _GAMMA)).astype(np.uint8)
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
