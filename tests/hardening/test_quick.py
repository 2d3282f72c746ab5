"""The short part of the hard use; `run.py` and `load.py` hold the long one, RECORD.md what came."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import disk
import harness
from broken import broken_kind
from cases import KINDS

from profiler.errors import GreytareError
from profiler.files.atomic import write_whole

COUNTS = {
    "frames": 30,
    "sheets": 500,
    "tables": 40,
    "profiles": 200,
    "toml": 400,
    "readings": 3000,
    "options": 200,
}
FORKS = pytest.mark.skipif(not hasattr(os, "fork"), reason="the writers are forked, as POSIX does")


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """A folder for all kinds, so that the series they start from is made once."""
    return tmp_path_factory.mktemp("hardening")


@pytest.mark.parametrize("kind", KINDS)
def test_fuzzed(kind, place, monkeypatch):
    monkeypatch.setenv("GREYTARE_CACHE", str(place / "cache"))
    monkeypatch.setenv("TMPDIR", str(place))
    tally = harness.run(KINDS[kind], range(COUNTS[kind]))
    assert tally.bad == []
    assert tally.failed == 0
    assert sum(tally.counts.values()) == COUNTS[kind]
    assert tally.counts["fine"] > 0


def test_the_harness_sees_what_goes_wrong(monkeypatch):
    monkeypatch.setattr(harness, "HANG_S", 1.0)
    tally = harness.run(broken_kind, range(5))
    assert dict(tally.counts) == {"fine": 1, "TRACEBACK": 1, "CRASH": 1, "HANG": 1, "WRONG": 1}


@FORKS
def test_killed_writers_leave_whole_files():
    said, failed = disk.kills(20)
    assert not failed, said


@FORKS
def test_racing_writers_lose_nothing():
    said, failed = disk.races(10)
    assert not failed, said


@FORKS
def test_a_write_that_is_cut_off_leaves_the_older_file(tmp_path):
    """As on a full disk: the system ends the file at 100 kB."""
    target = tmp_path / "a.json"
    write_whole(target, "before")
    code = disk.limited_file_size(lambda: write_whole(target, b"x" * 1_000_000, replace=True))
    assert code == 2
    assert [p.name for p in tmp_path.iterdir()] == ["a.json"]
    assert target.read_text() == "before"


@FORKS
def test_a_simulation_on_a_full_disk_is_one_sentence(tmp_path):
    from profiler import simulate

    spec = simulate.standard_series(
        simulate.load_body("halden-h2"), 1, labels=(100,), compression="none", size=(480, 320)
    )
    code = disk.limited_file_size(lambda: simulate.write_series(spec, tmp_path / "s"))
    assert code == 2
    assert list((tmp_path / "s").iterdir()) == []


def test_a_frame_that_claims_the_impossible_costs_nothing(tmp_path):
    """Ten thousand tags, each as long as the file (as a TIFF of 200 kB once took 3.2 GB)."""
    import struct
    import time

    from profiler.frames.dng_truncation import missing_share

    tags = [(50706, 1, 4, 0x401), (262, 3, 0, 0), (259, 12, 1, 1)]
    tags += [(273 + k, 3, 50_000, 1000) for k in range(10_000)]
    head = struct.pack("<2sHIH", b"II", 42, 8, len(tags))
    body = b"".join(struct.pack("<HHII", *tag) for tag in tags) + bytes(4)
    path = tmp_path / "bomb.dng"
    path.write_bytes((head + body).ljust(200_000, b"\1"))
    started = time.process_time()
    assert missing_share(path.read_bytes()) == 0.0
    assert time.process_time() - started < 1.0
    from profiler.frames.decode import open_mosaic

    with pytest.raises(GreytareError, match=r"bomb\.dng"), open_mosaic(path):
        pass
