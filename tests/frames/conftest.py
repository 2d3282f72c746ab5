"""Small DNG files and mosaics made on the spot."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import imagecodecs
import numpy as np
import pytest
import tifffile

XTRANS = ("GBGGRG", "RGRBGB", "GBGGRG", "GRGGBG", "BGBRGR", "GRGGBG")
"""One of the 36 ways to begin the 6 x 6 array."""

_TILE = 64


def write_dng_file(
    path: Path,
    readout_dn: np.ndarray,
    cfa: tuple[str, ...] | None,
    *,
    black: tuple[int, ...] = (64,),
    white: int = 16383,
    lossless_jpeg: bool = False,
    active: tuple[int, int, int, int] | None = None,
    extra: tuple[tuple[Any, ...], ...] = (),
) -> Path:
    """Write a DNG of a whole readout; active: top, left, bottom, right; cfa None: monochrome.

    No black: no tag of it.
    """
    cfa_tags: list[tuple[Any, ...]] = []
    photometric = 1
    if cfa is not None:
        photometric = 32803
        codes = bytes("RGB".index(letter) for row in cfa for letter in row)
        cfa_tags = [
            (50721, 10, 9, (1, 1, 0, 1, 0, 1, 0, 1, 1, 1, 0, 1, 0, 1, 0, 1, 1, 1), True),
            (33421, "H", 2, (len(cfa), len(cfa[0])), True),
            (33422, "B", len(codes), codes, True),
        ]
    tags = [
        (50706, "B", 4, bytes([1, 4, 0, 0]), True),
        (50708, "s", 0, "Invented One", True),
        *([(50714, "H", len(black), black, True)] if black else []),
        (50717, "H", 1, white, True),
        *([(50713, "H", 2, (2, 2), True)] if len(black) == 4 else []),
        *([(50829, "I", 4, active, True)] if active else []),
        *cfa_tags,
        *extra,
    ]
    common: dict[str, Any] = {
        "photometric": photometric,
        "extratags": tags,
        "metadata": None,
        "software": False,
        "subfiletype": 0,
    }
    height, width = readout_dn.shape
    with tifffile.TiffWriter(path) as writer:
        if lossless_jpeg:
            tiles = (
                imagecodecs.ljpeg_encode(_tile(readout_dn, y, x), bitspersample=14)
                for y in range(0, height, _TILE)
                for x in range(0, width, _TILE)
            )
            writer.write(
                tiles,
                shape=readout_dn.shape,
                dtype="uint16",
                compression=7,
                tile=(_TILE, _TILE),
                **common,
            )
        else:
            writer.write(readout_dn, rowsperstrip=32, **common)
    if cfa is None:  # one plane of linear raw, which the writer itself won't label so
        with tifffile.TiffFile(path, mode="r+b") as file:
            file.pages[0].tags[262].overwrite(34892)
    return path


def _tile(readout_dn: np.ndarray, y: int, x: int) -> np.ndarray:
    tile = readout_dn[y : y + _TILE, x : x + _TILE]
    pad = ((0, _TILE - tile.shape[0]), (0, _TILE - tile.shape[1]))
    return np.ascontiguousarray(np.pad(tile, pad, mode="edge"))


@pytest.fixture
def write_dng() -> Callable[..., Path]:
    return write_dng_file


@pytest.fixture
def xtrans() -> tuple[str, ...]:
    return XTRANS


@pytest.fixture
def noisy() -> Callable[..., np.ndarray]:
    """Normal noise around a level, as 16-bit codes."""

    def make(
        shape: tuple[int, int], level_dn: float = 3000.0, sd_dn: float = 20.0, seed: int = 7
    ) -> np.ndarray:
        drawn = np.random.default_rng(seed).normal(level_dn, sd_dn, shape)
        return np.clip(np.rint(drawn), 0, 16383).astype(np.uint16)

    return make
