"""Frames in a folder."""

from __future__ import annotations

from pathlib import Path

import pytest

from profiler.errors import FrameError
from profiler.frames.decode import RAW_SUFFIXES, list_frames


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
