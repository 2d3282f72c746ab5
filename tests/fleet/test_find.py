"""Which folders are series."""

from __future__ import annotations

import pytest

from profiler.errors import GreytareError
from profiler.fleet.batch.find import ROOT_NAME, find_series


def sheet(folder):
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "sheet.csv").write_text("file,reading,mode\n")


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
