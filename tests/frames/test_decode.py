"""Mosaics opened from files made on the spot: values, names, codes, threads."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
import tifffile

from profiler.errors import FrameError
from profiler.frames.decode import open_mosaic

WriteDng = Callable[..., Path]
Noisy = Callable[..., np.ndarray]

BAYER_NAMES = {
    "RGGB": (("R", "G1"), ("G2", "B")),
    "BGGR": (("B", "G2"), ("G1", "R")),
    "GRBG": (("G1", "R"), ("B", "G2")),
    "GBRG": (("G2", "B"), ("R", "G1")),
}


@pytest.mark.parametrize("order", BAYER_NAMES)
@pytest.mark.parametrize("lossless_jpeg", [False, True])
def test_bayer_values_and_names_inside_margins(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy, order: str, lossless_jpeg: bool
) -> None:
    readout = noisy((150, 210))
    path = write_dng(
        tmp_path / "a.dng",
        readout,
        (order[:2], order[2:]),
        lossless_jpeg=lossless_jpeg,
        active=(6, 14, 140, 202),
    )
    with open_mosaic(path) as mosaic:
        assert np.array_equal(mosaic.values_dn, readout[6:140, 14:202])
        assert mosaic.cfa == BAYER_NAMES[order]
        assert dict(mosaic.black_tag_dn) == dict.fromkeys(("R", "G1", "G2", "B"), 64.0)
        assert dict(mosaic.white_tag_dn) == dict.fromkeys(("R", "G1", "G2", "B"), 16383.0)
        assert mosaic.flags == ()


@pytest.mark.parametrize("margin", [(0, 0), (6, 12), (4, 9), (7, 2), (5, 13)])
@pytest.mark.parametrize("order", [*BAYER_NAMES, "6x6"])
def test_name_is_right_at_every_pixel(
    tmp_path: Path,
    write_dng: WriteDng,
    xtrans: tuple[str, ...],
    margin: tuple[int, int],
    order: str,
) -> None:
    """Each pixel holds a level that tells its colour; the array starts at the active corner.

    LibRaw leaves out a row or column of a Bayer sensor whose margin is odd.
    """
    top, left = margin
    height, width = 132, 150
    letters = xtrans if order == "6x6" else (order[:2], order[2:])
    level = {"R": 1000, "G": 2000, "B": 4000}
    tile = np.array([[level[letter] for letter in row] for row in letters])
    image = np.tile(tile, (height // len(letters), width // len(letters)))
    image = image + np.random.default_rng(3).integers(-40, 41, image.shape)
    readout = np.full((height + top + 3, width + left + 5), 64, dtype=np.uint16)
    readout[top : top + height, left : left + width] = image
    path = write_dng(
        tmp_path / "x.dng", readout, letters, active=(top, left, top + height, left + width)
    )
    with open_mosaic(path) as mosaic:
        assert len(mosaic.cfa) == len(mosaic.cfa[0]) == len(letters)
        rows, columns = mosaic.values_dn.shape
        assert rows >= height - 1
        assert columns >= width - 1
        names = np.tile(np.array(mosaic.cfa), (height, width))[:rows, :columns]
        expected = np.vectorize(lambda name: level[name[0]])(names)
        assert np.abs(mosaic.values_dn.astype(int) - expected).max() <= 40


@pytest.mark.parametrize("lossless_jpeg", [False, True])
def test_monochrome_is_one_channel(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy, lossless_jpeg: bool
) -> None:
    readout = noisy((128, 192))
    path = write_dng(tmp_path / "m.dng", readout, None, lossless_jpeg=lossless_jpeg)
    with open_mosaic(path) as mosaic:
        assert mosaic.cfa == (("Y",),)
        assert np.array_equal(mosaic.values_dn, readout)
        assert dict(mosaic.black_tag_dn) == {"Y": 64.0}


def test_developed_colour_is_refused(tmp_path: Path, noisy: Noisy) -> None:
    path = tmp_path / "l.dng"
    tags = [
        (50706, "B", 4, bytes([1, 4, 0, 0]), True),
        (50708, "s", 0, "Invented One", True),
        (50721, 10, 9, (1, 1, 0, 1, 0, 1, 0, 1, 1, 1, 0, 1, 0, 1, 0, 1, 1, 1), True),
    ]
    tifffile.imwrite(
        path,
        np.dstack([noisy((128, 192))] * 3),
        photometric=34892,
        extratags=tags,
        metadata=None,
        subfiletype=0,
    )
    with pytest.raises(FrameError, match=r"l\.dng: it holds developed colour"):
        open_mosaic(path).__enter__()


def test_unevenly_gappy_codes_are_flagged(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy
) -> None:
    """A square-root curve to 8 bits and back, as lossy codings have it."""
    ramp = np.linspace(200.0, 12000.0, 400)[None, :] + noisy((300, 400), 300.0, 60.0)
    lossy = np.rint((np.rint(np.sqrt(ramp) * 2.3) / 2.3) ** 2)
    path = write_dng(tmp_path / "q.dng", lossy.astype(np.uint16), ("RG", "GB"))
    with open_mosaic(path) as mosaic:
        (flag,) = mosaic.flags
        assert flag.name == "lossy-coding"
        assert flag.size > 0.5


def test_two_narrow_tones_are_not_flagged_as_lossy(tmp_path: Path, write_dng: WriteDng) -> None:
    readout = np.random.default_rng(8).integers(500, 504, (300, 400)).astype(np.uint16)
    readout[:, 200:] += 140
    with open_mosaic(write_dng(tmp_path / "p.dng", readout, ("RG", "GB"))) as mosaic:
        assert mosaic.flags == ()


@pytest.mark.parametrize("factor", [1, 2, 1.26])
def test_linear_and_pushed_codes_are_not_flagged_as_lossy(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy, factor: float
) -> None:
    pushed = np.floor(noisy((300, 400), 2000.0, 60.0) * factor).astype(np.uint16)
    with open_mosaic(write_dng(tmp_path / "p.dng", pushed, ("RG", "GB"))) as mosaic:
        assert mosaic.flags == ()


def test_many_threads_read_the_same_values(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy
) -> None:
    frames = {
        write_dng(
            tmp_path / f"{k}.dng", noisy((128, 192), seed=k), ("RG", "GB"), lossless_jpeg=k % 2 == 0
        ): noisy((128, 192), seed=k)
        for k in range(6)
    }

    def same(path: Path) -> bool:
        with open_mosaic(path) as mosaic:
            return np.array_equal(mosaic.values_dn, frames[path])

    with ThreadPoolExecutor(4) as pool:
        assert all(pool.map(same, list(frames) * 4))


def test_error_of_the_caller_passes_through(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy
) -> None:
    path = write_dng(tmp_path / "a.dng", noisy((128, 192)), ("RG", "GB"))
    with pytest.raises(RuntimeError, match="mine"), open_mosaic(path):
        raise RuntimeError("mine")


def test_values_outlive_the_block(tmp_path: Path, write_dng: WriteDng, noisy: Noisy) -> None:
    path = write_dng(tmp_path / "a.dng", noisy((128, 192)), ("RG", "GB"))
    with open_mosaic(path) as mosaic:
        values = mosaic.values_dn
    del mosaic
    os.remove(path)
    assert np.array_equal(values, noisy((128, 192)))
