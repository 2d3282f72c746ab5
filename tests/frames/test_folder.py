"""Frames in a folder."""

from __future__ import annotations

import os
from pathlib import Path

import imageio.v3 as imageio
import numpy as np
import pytest

from profiler.errors import FrameError
from profiler.frames.decode import RAW_SUFFIXES, list_frames
from profiler.frames.folder import is_picture, pictures_in
from profiler.show.calibration.frames import pictures_words


def _touch(folder: Path, *names: str) -> None:
    for name in names:
        (folder / name).write_bytes(b"x")


def test_lists_raw_files_and_planes_sorted(tmp_path: Path) -> None:
    _touch(tmp_path, "b.NEF", "a.dng", "a.DNG", "c.Cr3", "d.tif", "e.TIFF", "f.png")
    names = [path.name for path in list_frames(tmp_path)]
    assert names == ["a.DNG", "a.dng", "b.NEF", "c.Cr3", "d.tif", "e.TIFF", "f.png"]


def test_leaves_out_all_else(tmp_path: Path) -> None:
    _touch(
        tmp_path, "a.dng", ".b.dng", "._a.dng", "a.patch.png", "A.PATCH.PNG", "sheet.csv", "c.jpg"
    )
    (tmp_path / "d.dng").mkdir()
    assert [path.name for path in list_frames(str(tmp_path))] == ["a.dng"]


def test_missing_folder(tmp_path: Path) -> None:
    with pytest.raises(FrameError, match="there is no such folder"):
        list_frames(tmp_path / "none")


def test_folder_without_frames(tmp_path: Path) -> None:
    _touch(tmp_path, "sheet.csv")
    with pytest.raises(FrameError, match="holds no raw frame"):
        list_frames(tmp_path)


def test_suffixes_are_lower_case_with_a_dot() -> None:
    assert all(suffix.startswith(".") and suffix == suffix.lower() for suffix in RAW_SUFFIXES)
    assert {".dng", ".crw", ".cr3", ".nef", ".arw", ".raf", ".kdc"} <= RAW_SUFFIXES


def _picture(folder: Path, name: str, shape: tuple[int, ...], kind: type) -> None:
    imageio.imwrite(folder / name, np.zeros(shape, kind))


def test_pictures_beside_raw_files_are_left_out(tmp_path: Path) -> None:
    _touch(tmp_path, "a.dng", "cut.png", "cut.tif")
    _picture(tmp_path, "patch.png", (4, 4, 3), np.uint8)
    _picture(tmp_path, "plot.png", (4, 4, 4), np.uint8)
    _picture(tmp_path, "grey.png", (4, 4), np.uint8)
    _picture(tmp_path, "view.tif", (4, 4, 3), np.uint16)
    _picture(tmp_path, "view8.TIFF", (4, 4), np.uint8)
    _picture(tmp_path, "mosaic.png", (4, 4), np.uint16)
    _picture(tmp_path, "mosaic.tif", (4, 4), np.uint16)
    left = ["grey.png", "patch.png", "plot.png", "view.tif", "view8.TIFF"]
    kept = ["a.dng", "cut.png", "cut.tif", "mosaic.png", "mosaic.tif"]
    assert [path.name for path in list_frames(tmp_path)] == kept
    assert pictures_in(tmp_path) == left
    assert pictures_words(left[:2]) == (
        "grey.png and patch.png left out: they are pictures beside raw files, not one plane of "
        "16 bits"
    )
    assert pictures_words([]) == ""
    (tmp_path / "a.dng").unlink()  # nothing but planes: each is a frame, or refused by name
    assert [path.name for path in list_frames(tmp_path)] == sorted(kept[1:] + left)
    assert pictures_in(tmp_path) == []


def test_a_pipe_is_no_picture(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "p.png")
    assert not is_picture(tmp_path / "p.png")
