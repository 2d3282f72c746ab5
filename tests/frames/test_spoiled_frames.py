"""Frames that are clipped, dark, cut short or filled: taken, or refused."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import tifffile

from profiler.errors import FrameError
from profiler.frames.decode import open_mosaic

WriteDng = Callable[..., Path]
Noisy = Callable[..., np.ndarray]


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


def test_eight_bits_are_refused_unless_allowed(
    tmp_path: Path, write_dng: WriteDng, noisy: Noisy
) -> None:
    path = write_dng(tmp_path / "e.dng", noisy((128, 192), 100.0, 5.0), ("RG", "GB"), white=255)
    with pytest.raises(FrameError, match="8 bits only"):
        open_mosaic(path).__enter__()
    with open_mosaic(path, allow_8bit=True) as mosaic:
        assert [flag.name for flag in mosaic.flags] == ["eight-bit"]


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
