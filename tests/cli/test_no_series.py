"""What is no series is named for what it is, and nothing is advised beside it."""

from __future__ import annotations

import os

import pytest
from click.testing import CliRunner

from profiler.cli.main import greytare
from profiler.errors import FrameError, GreytareError

COMMANDS = (
    ["fit", "{}", "--out", "p.json"],
    ["measure", "{}"],
    ["measure", "{}", "--new-sheet", "s.csv"],
    ["fleet", "run", "{}", "--out", "o"],
    ["serve", "{}", "--no-browser"],
)


def said(words, path):
    result = CliRunner().invoke(greytare, [word.replace("{}", str(path)) for word in words])
    assert isinstance(result.exception, GreytareError)
    return str(result.exception)


@pytest.mark.parametrize("words", COMMANDS, ids=lambda words: " ".join(words[:2]))
@pytest.mark.parametrize("kind", ["device", "pipe", "nothing"])
def test_no_folder_is_told_by_its_kind(words, kind, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    path = {"device": os.devnull, "pipe": tmp_path / "pipe", "nothing": tmp_path / "none"}[kind]
    if kind == "pipe":
        if not hasattr(os, "mkfifo"):
            pytest.skip("pipes with names are POSIX")
        os.mkfifo(path)
    expected = "no such folder" if kind == "nothing" else f"this is a {kind}, not a folder"
    assert expected in said(words, path)
    assert "sheet.csv" not in said(words, path)


@pytest.mark.parametrize("words", COMMANDS[:2], ids=lambda words: words[0])
def test_one_frame_is_no_series(words, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "IMG_0001.DNG").write_bytes(b"II*\0")
    result = CliRunner().invoke(greytare, [word.replace("{}", "IMG_0001.DNG") for word in words])
    assert isinstance(result.exception, FrameError)
    assert "this is one frame, not a series" in str(result.exception)
