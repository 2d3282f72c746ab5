"""Files are written whole or not at all, and nothing is lost."""

from __future__ import annotations

import os

import pytest

from profiler.errors import GreytareError
from profiler.files.whole import write_whole


def test_writes_and_keeps_the_older_file(tmp_path):
    path = tmp_path / "a.json"
    assert write_whole(path, "one") is None
    kept = write_whole(path, "two", replace=True)
    assert (path.read_text(), kept.read_text()) == ("two", "one")
    again = write_whole(path, "three", replace=True)
    assert again != kept
    assert sorted(p.read_text() for p in tmp_path.iterdir()) == ["one", "three", "two"]


def test_never_over_an_existing_file(tmp_path):
    path = tmp_path / "a.json"
    path.write_text("mine")
    with pytest.raises(GreytareError, match="a file of this name exists"):
        write_whole(path, "theirs")
    assert path.read_text() == "mine"


def test_failure_leaves_everything_as_it_was(tmp_path, monkeypatch):
    path = tmp_path / "a.json"
    path.write_text("mine")

    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(GreytareError, match="No space left"):
        write_whole(path, "theirs", replace=True)
    assert [p.name for p in tmp_path.iterdir()] == ["a.json"]
    assert path.read_text() == "mine"


def test_missing_folder(tmp_path):
    with pytest.raises(GreytareError, match="does not exist"):
        write_whole(tmp_path / "no" / "a.json", "x")
