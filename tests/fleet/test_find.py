"""Which folders are series."""

from __future__ import annotations

import errno
import os

import pytest

from profiler.errors import GreytareError
from profiler.fleet.batch.find import ROOT_NAME, find_series


def sheet(folder):
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "sheet.csv").write_text("file,reading,mode\n")


def test_results_among_the_series_are_refused(tmp_path):
    sheet(tmp_path / "a")
    with pytest.raises(GreytareError, match="would lie among the series"):
        find_series(tmp_path, tmp_path)


def test_every_folder_with_a_sheet(tmp_path):
    for name in ("b", "a/deep", "a", ".hidden", "out/profiles"):
        sheet(tmp_path / name)
    (tmp_path / "loose").mkdir()
    (tmp_path / "loose" / "X.NEF").write_bytes(b"")
    (tmp_path / "empty").mkdir()
    found = find_series(tmp_path, tmp_path / "out")
    assert list(found.series) == ["a", "a/deep", "b"]
    assert found.series["a/deep"] == tmp_path / "a" / "deep"
    assert [p.name for p in found.without_sheet] == ["loose"]


def test_the_root_itself(tmp_path):
    sheet(tmp_path)
    assert find_series(tmp_path).series == {ROOT_NAME: tmp_path}


def test_nothing_to_do(tmp_path):
    with pytest.raises(GreytareError, match=r"no folder at or below it holds a sheet\.csv"):
        find_series(tmp_path)
    with pytest.raises(GreytareError, match="no such folder"):
        find_series(tmp_path / "absent")


def test_a_linked_folder_is_followed_once_or_named(tmp_path):
    root, beyond = tmp_path / "root", tmp_path / "beyond"
    for name in ("a", "b/deep"):
        sheet(root / name)
    sheet(beyond / "c")
    (root / "0-to-a").symlink_to(root / "a")  # comes first by its name
    (root / "b" / "up").symlink_to(root)
    (root / "far").symlink_to(beyond)
    (root / "far-again").symlink_to(beyond / "c")
    (root / "gone").symlink_to(tmp_path / "nowhere")
    found = find_series(root)
    assert list(found.series) == ["a", "b/deep", "far/c"]
    assert {path.name for path in found.linked_again} == {"0-to-a", "up", "far-again"}
    assert found.lost("gone/d") == "the link leads nowhere"
    assert found.lost("a/other") == ""


def test_a_folder_that_cant_be_looked_into_is_not_deleted(tmp_path, monkeypatch):
    sheet(tmp_path / "a")
    sheet(tmp_path / "locked" / "b")
    real = os.scandir

    def scandir(path):
        if str(path).endswith("locked"):
            raise OSError(errno.ESTALE, os.strerror(errno.ESTALE))
        return real(path)

    monkeypatch.setattr(os, "scandir", scandir)
    found = find_series(tmp_path)
    assert list(found.series) == ["a"]
    assert found.lost("locked/b") == os.strerror(errno.ESTALE)
    assert found.lost("a/b") == ""
