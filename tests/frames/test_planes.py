"""Linear planes in TIFF and PNG: what is read, flagged and refused."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import imageio.v3 as iio
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


@pytest.mark.parametrize("suffix", [".tif", ".TIFF", ".png"])
@pytest.mark.parametrize(
    ("cfa", "names"), [*BAYER_NAMES.items(), ("mono", (("Y",),)), ("rg/gb", BAYER_NAMES["RGGB"])]
)
def test_linear_planes(
    tmp_path: Path, noisy: Noisy, suffix: str, cfa: str, names: tuple[tuple[str, ...], ...]
) -> None:
    values = noisy((120, 160))
    path = tmp_path / f"p{suffix}"
    iio.imwrite(path, values, extension=suffix.lower())
    with open_mosaic(path, cfa) as mosaic:
        assert np.array_equal(mosaic.values_dn, values)
        assert mosaic.values_dn.dtype == np.uint16
        assert mosaic.cfa == names


def test_plane_with_a_longer_array(tmp_path: Path, noisy: Noisy, xtrans: tuple[str, ...]) -> None:
    iio.imwrite(tmp_path / "x.tif", noisy((120, 180)))
    with open_mosaic(tmp_path / "x.tif", "/".join(xtrans)) as mosaic:
        assert mosaic.cfa == tuple(tuple(row) for row in xtrans)


@pytest.mark.parametrize(
    ("change", "cfa", "message"),
    [
        (lambda v: v, None, r"colour filter array\. Fill the sheet's cfa column"),
        (lambda v: v, " ", r"colour filter array\. Fill the sheet's cfa column"),
        (lambda v: v, "RGBG", "'RGBG' names no colour filter array"),
        (lambda v: v, "GGGG", "'GGGG' names no colour filter array"),
        (lambda v: v, "RGB/GB", "'RGB/GB' names no colour filter array"),
        (lambda v: (v >> 4).astype(np.uint8), "RGGB", r"8 bits only .* add allow 8bit"),
        (lambda v: v.astype(np.int16), "RGGB", "it holds int16 values"),
        (lambda v: np.dstack([v] * 3), "RGGB", "it holds 3 planes"),
        (lambda v: v.astype(np.float32), "RGGB", "it holds float32 values"),
        (lambda v: v[:2, :3], "RGGB", "too small"),
        (lambda v: v * 0, "RGGB", "all of the frame holds the one value 0"),
    ],
)
def test_planes_that_are_refused(
    tmp_path: Path,
    noisy: Noisy,
    change: Callable[[np.ndarray], np.ndarray],
    cfa: str | None,
    message: str,
) -> None:
    tifffile.imwrite(tmp_path / "p.tif", change(noisy((120, 160))), metadata=None)
    with pytest.raises(FrameError, match=message):
        open_mosaic(tmp_path / "p.tif", cfa).__enter__()


@pytest.mark.parametrize("suffix", [".tif", ".png"])
def test_planes_of_eight_bits_clip_at_255(tmp_path: Path, noisy: Noisy, suffix: str) -> None:
    values = noisy((120, 160), 100.0, 4.0).astype(np.uint8)
    values[:30] = 255
    iio.imwrite(tmp_path / f"p{suffix}", values)
    with open_mosaic(tmp_path / f"p{suffix}", "RGGB", allow_8bit=True) as mosaic:
        assert mosaic.values_dn.dtype == np.uint16
        assert np.array_equal(mosaic.values_dn, values)
        assert dict(mosaic.white_tag_dn) == dict.fromkeys(("R", "G1", "G2", "B"), 255.0)
        assert [flag.name for flag in mosaic.flags] == ["eight-bit"]
        assert mosaic.native.bits == 8


@pytest.mark.parametrize("level_dn", [3, 40])
def test_even_areas_of_eight_bits_are_no_filled_ones(
    tmp_path: Path, noisy: Noisy, level_dn: int
) -> None:
    """Noise of a fifth of a code leaves whole rows on one code."""
    values = np.clip(noisy((240, 640), 100.0, 4.0), 0, 255).astype(np.uint8)
    values[60:180] = level_dn
    tifffile.imwrite(tmp_path / "p.tif", values, metadata=None)
    with open_mosaic(tmp_path / "p.tif", "MONO", allow_8bit=True) as mosaic:
        assert np.array_equal(mosaic.values_dn, values)
    tifffile.imwrite(tmp_path / "q.tif", np.full_like(values, level_dn), metadata=None)
    if level_dn > 3:
        with pytest.raises(FrameError, match=f"all of the frame holds the one value {level_dn}"):
            open_mosaic(tmp_path / "q.tif", "MONO", allow_8bit=True).__enter__()


@pytest.mark.parametrize("photometric", ["palette", "miniswhite"])
def test_planes_whose_numbers_mean_something_else_are_refused(
    tmp_path: Path, noisy: Noisy, photometric: str
) -> None:
    values = noisy((120, 160), 100.0, 4.0).astype(np.uint8)
    colours = {"colormap": np.zeros((3, 256), np.uint16)} if photometric == "palette" else {}
    tifffile.imwrite(tmp_path / "p.tif", values, photometric=photometric, metadata=None, **colours)
    with pytest.raises(FrameError, match="it holds a palette, or zero for white"):
        open_mosaic(tmp_path / "p.tif", "RGGB", allow_8bit=True).__enter__()


def test_lossy_plane_is_flagged(tmp_path: Path, noisy: Noisy) -> None:
    values = noisy((128, 160), 100.0, 8.0).astype(np.uint8)
    tifffile.imwrite(tmp_path / "p.tif", values, compression="jpeg", metadata=None)
    with open_mosaic(tmp_path / "p.tif", "RGGB", allow_8bit=True) as mosaic:
        assert {flag.name for flag in mosaic.flags} == {"eight-bit", "lossy-coding"}


def test_fewer_bits_are_refused_even_so(tmp_path: Path, noisy: Noisy) -> None:
    """Four bits, which PNG readers spread to 0, 17, 34 ... 255."""
    values = noisy((120, 160), 8.0, 2.5) % 16 * 17
    iio.imwrite(tmp_path / "p.png", values.astype(np.uint8))
    with pytest.raises(FrameError, match="fewer than 7 bits"):
        open_mosaic(tmp_path / "p.png", "RGGB", allow_8bit=True).__enter__()


@pytest.mark.parametrize(("spread", "bits"), [(64, 8), (32, 9), (4, 12)])
def test_raw_codes_spread_over_fourteen_bits(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy, spread: int, bits: int
) -> None:
    values = noisy((128, 192), 100.0, 5.0) * spread
    path = write_dng(tmp_path / "e.dng", values.astype(np.uint16), ("RG", "GB"))
    with open_mosaic(path, allow_8bit=True) as mosaic:
        assert [flag.name for flag in mosaic.flags] == (["eight-bit"] if bits == 8 else [])
