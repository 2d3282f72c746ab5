"""Mosaics opened from files made on the spot: values, names, levels, refusals."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import imageio.v3 as iio
import numpy as np
import pytest
import tifffile

from profiler.errors import FrameError
from profiler.frames.decode import open_mosaic, quiet_native_stderr

WriteDng = Callable[..., Path]
Noisy = Callable[..., np.ndarray]

BAYER_NAMES = {
    "RGGB": (("R", "G1"), ("G2", "B")),
    "BGGR": (("B", "G2"), ("G1", "R")),
    "GRBG": (("G1", "R"), ("B", "G2")),
    "GBRG": (("G2", "B"), ("R", "G1")),
}


@pytest.fixture(autouse=True)
def _quiet():
    with quiet_native_stderr():
        yield


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


def test_black_tag_per_channel_follows_the_names(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy
) -> None:
    path = write_dng(
        tmp_path / "b.dng", noisy((128, 128)), ("RG", "GB"), black=(255, 256, 257, 258)
    )
    with open_mosaic(path) as mosaic:
        assert dict(mosaic.black_tag_dn) == {"R": 255.0, "G1": 256.0, "G2": 257.0, "B": 258.0}


@pytest.mark.parametrize(
    ("stated", "black"), [((0,), dict.fromkeys(("R", "G1", "G2", "B"), 0.0)), ((), {})]
)
def test_black_that_no_tag_states_is_unknown(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy, stated: tuple[int, ...], black: dict
) -> None:
    """The decoder says 0 either way."""
    path = write_dng(tmp_path / "z.dng", noisy((128, 128)), ("RG", "GB"), black=stated)
    with open_mosaic(path) as mosaic:
        assert dict(mosaic.black_tag_dn) == black


def test_masked_border_gives_the_level_of_each_channel(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy
) -> None:
    black = {"R": 250.0, "G1": 256.0, "G2": 262.0, "B": 268.0}
    pattern = np.array([[250.0, 256.0], [262.0, 268.0]])
    rng = np.random.default_rng(11)
    readout = noisy((300, 400))
    dark = np.tile(pattern, (150, 12)) + rng.normal(0.0, 4.0, (300, 24))
    readout[:, :24] = np.rint(dark)
    readout[:, 20:24] += 9  # light that leaks in from the image
    readout[::50, 10] = 16000  # hot
    path = write_dng(
        tmp_path / "k.dng", readout, ("RG", "GB"), black=(256,), active=(0, 24, 300, 400)
    )
    with open_mosaic(path) as mosaic:
        for channel, level in black.items():
            masked = mosaic.masked[channel]
            assert masked.mean_dn == pytest.approx(level, abs=4 * 4.0 / masked.n**0.5)
            assert masked.sd_dn == pytest.approx(4.0, rel=0.1)
            assert masked.n > 1000


@pytest.mark.parametrize("side", ["left", "right", "top", "bottom"])
def test_masked_border_on_any_side_keeps_the_phase(
    tmp_path: Path, write_dng: WriteDng, xtrans: tuple[str, ...], side: str
) -> None:
    """Margins that are no whole periods; levels differ by colour, and rise next to the image."""
    black = {"R": 250.0, "G": 260.0, "B": 270.0}
    top, left = (21, 0) if side == "top" else (0, 25) if side == "left" else (0, 0)
    bottom, right = top + 132, left + 150
    height, width = bottom + 21 * (side == "bottom"), right + 25 * (side == "right")
    y, x = np.mgrid[:height, :width]
    letters = np.array([list(row) for row in xtrans])[(y - top) % 6, (x - left) % 6]
    readout = np.vectorize(black.get)(letters) + np.random.default_rng(2).normal(
        0.0, 2.0, (height, width)
    )
    away = np.maximum.reduce([top - y, y - bottom + 1, left - x, x - right + 1])
    readout[(away >= 1) & (away <= 4)] += 8.0
    readout[away <= 0] += 2000.0
    path = write_dng(
        tmp_path / "k.dng",
        np.rint(readout).astype(np.uint16),
        xtrans,
        black=(256,),
        active=(top, left, bottom, right),
    )
    with open_mosaic(path) as mosaic:
        assert mosaic.values_dn.shape == (132, 150)
        for channel, level in black.items():
            assert mosaic.masked[channel].mean_dn == pytest.approx(level, abs=0.4)


def test_masked_border_counts_where_the_black_tag_is_wrong(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy
) -> None:
    readout = noisy((128, 160))
    readout[:, :20] = noisy((128, 20), 512.0, 5.0)
    path = write_dng(
        tmp_path / "k.dng", readout, ("RG", "GB"), black=(0,), active=(0, 20, 128, 160)
    )
    with open_mosaic(path) as mosaic:
        assert mosaic.masked["G1"].mean_dn == pytest.approx(512.0, abs=1.0)


@pytest.mark.parametrize(
    ("width", "level_dn", "sd_dn"),
    [(4, 64.0, 3.0), (6, 64.0, 3.0), (20, 3000.0, 20.0), (20, 0.0, 0.0), (20, 200.0, 0.0)],
    ids=["narrow", "too narrow still", "sees light", "zeros", "constant"],
)
def test_border_that_is_not_masked_is_not_used(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy, width: int, level_dn: float, sd_dn: float
) -> None:
    readout = noisy((128, 160))
    readout[:, :width] = noisy((128, width), level_dn, sd_dn)
    path = write_dng(tmp_path / "n.dng", readout, ("RG", "GB"), active=(0, width, 128, 160))
    with open_mosaic(path) as mosaic:
        assert dict(mosaic.masked) == {}


def test_lighter_of_two_borders_is_left_out(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy
) -> None:
    readout = noisy((128, 200))
    readout[:, :20] = noisy((128, 20), 64.0, 3.0)
    readout[:, 180:] = noisy((128, 20), 80.0, 3.0)
    path = write_dng(tmp_path / "n.dng", readout, ("RG", "GB"), active=(0, 20, 128, 180))
    with open_mosaic(path) as mosaic:
        assert mosaic.masked["B"].mean_dn == pytest.approx(64.0, abs=0.5)


def test_the_large_clean_border_counts_and_not_the_lowest(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy
) -> None:
    """A narrow strip of another offset, and a wide one into which light leaks all over."""
    readout = noisy((200, 300))
    readout[:, :12] = noisy((200, 12), 40.0, 3.0)
    readout[:, 250:] = noisy((200, 50), 64.0, 3.0)
    path = write_dng(tmp_path / "n.dng", readout, ("RG", "GB"), active=(0, 12, 200, 250))
    with open_mosaic(path) as mosaic:
        assert mosaic.masked["B"].mean_dn == pytest.approx(64.0, abs=0.5)

    readout = noisy((200, 300))
    readout[:, :20] = noisy((200, 20), 64.0, 3.0)
    leak = 12.0 * np.exp(-np.arange(60) / 20.0)
    readout[:, 240:] = np.rint(64.0 + leak + np.random.default_rng(3).normal(0.0, 3.0, (200, 60)))
    path = write_dng(tmp_path / "l.dng", readout, ("RG", "GB"), active=(0, 20, 200, 240))
    with open_mosaic(path) as mosaic:
        assert mosaic.masked["B"].mean_dn == pytest.approx(64.0, abs=0.5)


def test_masked_noise_that_was_cut_at_zero_gives_its_own_middle(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy
) -> None:
    readout = noisy((200, 300))
    dark = np.random.default_rng(4).normal(0.5, 6.0, (200, 40))
    readout[:, :40] = np.maximum(np.rint(dark), 0.0)
    path = write_dng(tmp_path / "z.dng", readout, ("RG", "GB"), active=(0, 40, 200, 300))
    with open_mosaic(path) as mosaic:
        for masked in mosaic.masked.values():
            assert masked.mean_dn == pytest.approx(0.5, abs=0.5)  # cut it would be 2.7
            assert masked.sd_dn == pytest.approx(6.0, rel=0.1)
            assert masked.cut_share == pytest.approx(0.5, abs=0.03)


@pytest.mark.parametrize(
    ("clip_dn", "white_dn"),
    [(16383, 16383), (15520, 16383), (9000, 16383), (15520, 65535), (15520, 15000)],
)
def test_wholly_clipped_frame_is_taken(
    tmp_path: Path, write_dng: WriteDng, clip_dn: int, white_dn: int
) -> None:
    readout = np.full((200, 300), clip_dn, dtype=np.uint16)
    readout[1::2, ::2] -= 30  # one channel clips a little lower
    path = write_dng(tmp_path / "c.dng", readout, ("RG", "GB"), white=white_dn)
    with open_mosaic(path) as mosaic:
        assert mosaic.values_dn.max() == clip_dn


@pytest.mark.parametrize("odd_px", [1, 12])
@pytest.mark.parametrize("clipped_rows", [50, 300])
def test_odd_pixels_above_a_plateau_do_not_spoil_it(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy, odd_px: int, clipped_rows: int
) -> None:
    """Hot pixels are added to after clipping by some bodies, and left out of it by others."""
    readout = noisy((300, 400), 3000.0, 20.0)
    readout[:clipped_rows] = 15520
    readout[np.arange(odd_px) * 24, np.arange(odd_px) * 32] = 16383
    path = write_dng(tmp_path / "c.dng", readout, ("RG", "GB"))
    with open_mosaic(path) as mosaic:
        assert mosaic.values_dn.max() == 16383


def test_filled_rows_below_the_picture_are_no_plateau(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy
) -> None:
    readout = noisy((300, 400), 12000.0, 100.0)
    readout[:51] = 9000
    path = write_dng(tmp_path / "c.dng", readout, ("RG", "GB"))
    with pytest.raises(FrameError, match="17 % of the frame holds the one value 9000"):
        open_mosaic(path).__enter__()


def test_partly_clipped_frame_is_taken(tmp_path: Path, write_dng: WriteDng, noisy: Noisy) -> None:
    readout = noisy((300, 400))
    readout[120:] = 15800
    path = write_dng(tmp_path / "c.dng", readout, ("RG", "GB"))
    with open_mosaic(path) as mosaic:
        assert (mosaic.values_dn == 15800).mean() == pytest.approx(0.6)


@pytest.mark.parametrize("sd_dn", [0.1, 2.0])
def test_lens_cap_frame_is_taken(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy, sd_dn: float
) -> None:
    readout = noisy((300, 400), 64.0, sd_dn)
    readout[::40, ::50] = 90
    path = write_dng(tmp_path / "d.dng", readout, ("RG", "GB"))
    with open_mosaic(path) as mosaic:
        assert mosaic.values_dn.mean() == pytest.approx(64.0, abs=0.2)


@pytest.mark.parametrize("level_dn", [62, 64, 66])
def test_lens_cap_frame_without_noise_is_taken_at_the_black_tag(
    tmp_path: Path, write_dng: WriteDng, level_dn: int
) -> None:
    readout = np.full((300, 400), level_dn, dtype=np.uint16)
    with open_mosaic(write_dng(tmp_path / "d.dng", readout, ("RG", "GB"))) as mosaic:
        assert mosaic.values_dn.max() == level_dn


@pytest.mark.parametrize("level_dn", [40, 80, 3000])
def test_frame_of_one_other_value_is_refused(
    tmp_path: Path, write_dng: WriteDng, level_dn: int
) -> None:
    readout = np.full((300, 400), level_dn, dtype=np.uint16)
    path = write_dng(tmp_path / "d.dng", readout, ("RG", "GB"))
    with pytest.raises(FrameError, match=f"all of the frame holds the one value {level_dn}"):
        open_mosaic(path).__enter__()


@pytest.mark.parametrize("value", [0, 64, 500, 65535])
def test_rows_filled_with_one_value_are_refused(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy, value: int
) -> None:
    readout = noisy((300, 400))
    readout[240:] = value
    path = write_dng(tmp_path / "z.dng", readout, ("RG", "GB"))
    with (
        pytest.raises(FrameError, match=rf"z\.dng: 20 % of .* the one value {value} instead"),
        open_mosaic(path),
    ):
        pass


def test_frame_of_zeros_is_refused(tmp_path: Path, write_dng: WriteDng) -> None:
    path = write_dng(tmp_path / "z.dng", np.zeros((200, 300), np.uint16), ("RG", "GB"), black=(0,))
    with pytest.raises(FrameError, match="all of the frame holds the one value 0"):
        open_mosaic(path).__enter__()


def test_scattered_impossible_values_are_refused(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy
) -> None:
    readout = noisy((300, 400))
    readout[200:] = np.random.default_rng(5).integers(0, 65536, (100, 400))
    path = write_dng(tmp_path / "g.dng", readout, ("RG", "GB"))
    with pytest.raises(FrameError, match="beyond what the white level 16383 allows"):
        open_mosaic(path).__enter__()


def test_wrong_white_level_is_no_reason_to_refuse(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy
) -> None:
    path = write_dng(tmp_path / "w.dng", noisy((300, 400), 9000.0, 60.0), ("RG", "GB"), white=4095)
    with open_mosaic(path) as mosaic:
        assert mosaic.values_dn.mean() == pytest.approx(9000.0, abs=1.0)


@pytest.mark.parametrize("share", [0.1, 0.3, 0.6, 0.9, 0.99])
@pytest.mark.parametrize("lossless_jpeg", [False, True])
def test_truncated_copy_is_refused(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy, share: float, lossless_jpeg: bool
) -> None:
    whole = write_dng(
        tmp_path / "w.dng", noisy((256, 384)), ("RG", "GB"), lossless_jpeg=lossless_jpeg
    )
    content = whole.read_bytes()
    cut = tmp_path / "cut.dng"
    cut.write_bytes(content[: int(share * len(content))])
    with pytest.raises(FrameError, match=r"cut\.dng: the file is cut short or damaged"):
        open_mosaic(cut).__enter__()


def test_cut_between_two_tiles_is_not_filled_from_another_frame(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy
) -> None:
    """LibRaw passes such a file and leaves old memory where tiles are missing."""
    whole = write_dng(tmp_path / "w.dng", noisy((256, 384)), ("RG", "GB"), lossless_jpeg=True)
    with tifffile.TiffFile(whole) as file:
        offsets = file.pages[0].dataoffsets
    cut = tmp_path / "cut.dng"
    cut.write_bytes(whole.read_bytes()[: offsets[len(offsets) // 2]])
    with pytest.raises(FrameError, match="50 % of its pixels are missing"):
        open_mosaic(cut).__enter__()


@pytest.mark.parametrize("fill", [b"\0", b"\xff", b"\x5a"])
def test_lost_tiles_are_refused(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy, fill: bytes
) -> None:
    whole = write_dng(tmp_path / "w.dng", noisy((256, 384)), ("RG", "GB"), lossless_jpeg=True)
    with tifffile.TiffFile(whole) as file:
        offset, length = file.pages[0].dataoffsets[5], file.pages[0].databytecounts[5]
    content = bytearray(whole.read_bytes())
    content[offset : offset + length] = fill * length
    whole.write_bytes(content)
    with pytest.raises(FrameError, match="4 % of its pixels are missing"):
        open_mosaic(whole).__enter__()


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


def test_eight_bits_are_refused_unless_allowed(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy
) -> None:
    path = write_dng(tmp_path / "e.dng", noisy((128, 192), 100.0, 5.0), ("RG", "GB"), white=255)
    with pytest.raises(FrameError, match="8 bits only"):
        open_mosaic(path).__enter__()
    with open_mosaic(path, allow_8bit=True) as mosaic:
        assert [flag.name for flag in mosaic.flags] == ["eight-bit"]


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


def test_linear_limit_is_kept_apart_from_the_white_level(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy
) -> None:
    limit = (50734, 5, 1, (9, 10), True)  # LinearResponseLimit
    path = write_dng(tmp_path / "p.dng", noisy((96, 128)), ("RG", "GB"), extra=(limit,))
    with open_mosaic(path) as mosaic:
        assert mosaic.white_tag_dn["G1"] == 16383.0
        assert mosaic.linear_limit_tag_dn["G1"] == pytest.approx(64 + 0.9 * (16383 - 64), abs=1.0)


@pytest.mark.parametrize("factor", [1, 2, 1.26])
def test_linear_and_pushed_codes_are_not_flagged_as_lossy(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy, factor: float
) -> None:
    pushed = np.floor(noisy((300, 400), 2000.0, 60.0) * factor).astype(np.uint16)
    with open_mosaic(write_dng(tmp_path / "p.dng", pushed, ("RG", "GB"))) as mosaic:
        assert mosaic.flags == ()


@pytest.mark.parametrize(
    ("name", "content", "message"),
    [
        ("none.dng", None, "there is no such file"),
        ("empty.dng", b"", "the file is empty"),
        ("text.nef", b"no raw file at all " * 200, "isn't a raw file that LibRaw knows"),
        ("broken.tif", b"no picture at all " * 200, "the picture can't be read"),
        ("broken.png", b"\x89PNG\r\n\x1a\n" + b"x" * 99, "the picture can't be read"),
    ],
)
def test_what_is_no_frame_is_refused(
    tmp_path: Path, name: str, content: bytes | None, message: str
) -> None:
    if content is not None:
        (tmp_path / name).write_bytes(content)
    with pytest.raises(FrameError, match=message):
        open_mosaic(tmp_path / name, "RGGB").__enter__()


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
