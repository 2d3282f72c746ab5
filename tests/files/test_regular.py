"""Only regular files are read, and nothing is waited for."""

from __future__ import annotations

import os

import pytest

from profiler.errors import GreytareError
from profiler.files.level_table import read_table
from profiler.files.meter import read_meter
from profiler.files.profile import load_profile
from profiler.files.regular import NotUsableError, read_bytes
from profiler.files.sheet import read_sheet
from profiler.files.toml import parse_toml
from profiler.frames.folder import list_frames

READERS = [read_meter, load_profile, read_sheet, read_table]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes with names are POSIX")
@pytest.mark.parametrize("read", READERS)
def test_a_pipe_is_refused_at_once(tmp_path, read):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(GreytareError, match="can't be read"):
        read(tmp_path / "pipe")


@pytest.mark.parametrize("read", READERS)
def test_an_endless_device_is_refused(read, tmp_path):
    (tmp_path / "zero").symlink_to("/dev/zero")
    with pytest.raises(GreytareError, match="can't be read"):
        read(tmp_path / "zero")


def test_size_is_limited(tmp_path):
    (tmp_path / "a").write_bytes(bytes(2_000_001))
    with pytest.raises(NotUsableError, match="larger than 1 MiB"):
        read_bytes(tmp_path / "a", 1 << 20)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes with names are POSIX")
def test_a_frame_that_is_a_pipe_is_named(tmp_path):
    os.mkfifo(tmp_path / "IMG_1.dng")
    with pytest.raises(GreytareError, match=r"IMG_1\.dng: this is a pipe, not a file"):
        list_frames(tmp_path)


def test_frames_with_names_that_act_on_a_terminal_or_are_no_text(tmp_path):
    (tmp_path / "a\x1b[2J.dng").write_bytes(b"x")
    with pytest.raises(GreytareError, match=r"a\\x1b\[2J\.dng: the name holds"):
        list_frames(tmp_path)
    (tmp_path / "a\x1b[2J.dng").unlink()
    path = os.fsencode(tmp_path) + b"/a\xff.dng"
    with open(path, "wb") as stream:
        stream.write(b"x")
    with pytest.raises(GreytareError, match=r"a\\udcff\.dng: the name holds"):
        list_frames(tmp_path)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a=" + "9" * 5000, "4300 digits"),
        ("a=" + "9" * 400, "64 bits"),
        (".".join("a" * 20_000) + "=1", "very many parts"),
        ("a=" + "[" * 5000 + "]" * 5000, "nested too deep"),
        ("a=" + "[" * 20 + "]" * 20, "nested too deep"),
        ("a=" + "{a=" * 20 + "1" + "}" * 20, "nested too deep"),
        ("#" * 300_000, "longer than"),
        ("a", "Expected '='"),
    ],
    ids=["digits", "integer", "dots", "lists", "lists within reach", "tables", "long", "broken"],
)
def test_toml_bombs(text, words):
    with pytest.raises(GreytareError, match=words):
        parse_toml(text, "t.toml")
