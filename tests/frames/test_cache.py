"""What the cache remembers is true, or it remembers nothing."""

from __future__ import annotations

import logging
import os
import shutil
import sqlite3
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from profiler import simulate
from profiler.calibration import pipeline
from profiler.errors import FrameError
from profiler.files.sheet import read_sheet
from profiler.frames import measure, measure_units
from profiler.frames.cache import MeasureCache, sha256_of, signature_of


@pytest.fixture(scope="module")
def series(tmp_path_factory):
    spec = simulate.standard_series(
        simulate.load_body("halden-h2"), 3, labels=(400,), frames_per_label=5, size=(240, 160)
    )
    return simulate.write_series(spec, tmp_path_factory.mktemp("series") / "s").folder


@pytest.fixture
def place(series, tmp_path):
    shutil.copytree(series, tmp_path / "s")
    return tmp_path


def measured(place):
    cache = MeasureCache(place / "cache")
    try:
        folder = place / "s"
        return pipeline.measure(folder, read_sheet(folder / "sheet.csv"), cache=cache)
    finally:
        cache.close()


def levels(measurement):
    return [
        (frame.sha256, {name: channel.mean_dn for name, channel in frame.channels.items()})
        for frame in measurement.frames
    ]


def edit(place, statement, *values):
    base = sqlite3.connect(place / "cache" / "measured.sqlite")
    with base:
        count = base.execute(statement, values).rowcount
    base.close()
    return count


def test_other_content_under_the_same_path_size_and_time(place):
    a, b = place / "s" / "IMG_0002.dng", place / "s" / "IMG_0003.dng"
    b.write_bytes(b.read_bytes().ljust(a.stat().st_size, b"\0"))
    a.write_bytes(a.read_bytes().ljust(b.stat().st_size, b"\0"))
    stat = a.stat()
    before = measured(place)
    a.write_bytes(b.read_bytes())
    os.utime(a, ns=(stat.st_atime_ns, stat.st_mtime_ns))
    assert (a.stat().st_size, a.stat().st_mtime_ns) == (stat.st_size, stat.st_mtime_ns)
    after = measured(place)
    assert after.frames[1].sha256 == sha256_of(a) != before.frames[1].sha256


def test_a_file_that_changed_shortly_before_is_read_again(place, monkeypatch):
    path = place / "s" / "IMG_0002.dng"
    cache = MeasureCache(place / "cache")
    first = cache.digest(path)
    edit(place, "UPDATE content SET sha256 = 'x'")
    assert cache.digests([path]) == [None]  # checksum
    cache.digest(path)
    later = time.time_ns() + 10_000_000_000
    monkeypatch.setattr("hashlib.file_digest", lambda *_: pytest.fail("read again"))
    with pytest.raises(pytest.fail.Exception, match="read again"):
        cache.digests([path])
    monkeypatch.undo()
    cache.keep_digest(path, signature_of(path.stat()), later, first)
    monkeypatch.setattr("hashlib.file_digest", lambda *_: pytest.fail("read again"))
    assert cache.digests([path]) == [first]  # settled: not read
    cache.close()


def test_a_copy_is_told_by_its_content_and_not_decoded(place):
    true = measured(place)
    (place / "s").rename(place / "moved")
    shutil.copytree(place / "moved", place / "s")  # keeps size and time of change
    assert levels(measured(place)) == levels(true)
    assert measured(place).decoded == 0


def test_an_edited_level_is_measured_anew(place):
    true = measured(place)
    assert measured(place).decoded == 0
    changed = edit(
        place, "UPDATE measured SET value = replace(value, '\"mean_dn\": ', '\"mean_dn\": 1')"
    )
    assert changed > 0
    again = measured(place)
    assert levels(again) == levels(true)
    assert again.decoded > 0


@pytest.mark.parametrize("kind", ["text", "cut", "foreign", "middle", "folder"])
def test_a_damaged_table_is_begun_anew_and_said_once(place, kind, caplog):
    true = measured(place)
    base = place / "cache" / "measured.sqlite"
    for side in place.glob("cache/*-*"):
        side.unlink()
    if kind == "text":
        base.write_text("this is a letter to somebody, long enough to be no header\n" * 500)
    elif kind == "cut":
        base.write_bytes(base.read_bytes()[:6000])
    elif kind == "middle":
        whole = bytearray(base.read_bytes())
        whole[4096:] = b"\xa5" * (len(whole) - 4096)
        base.write_bytes(bytes(whole))
    elif kind == "foreign":
        base.unlink()
        with sqlite3.connect(base) as other:
            other.execute("CREATE TABLE measured (mine TEXT)")
        other.close()
    else:
        base.unlink()
        base.mkdir()
    with caplog.at_level(logging.WARNING, "greytare"):
        assert levels(measured(place)) == levels(true)
    said = [record.getMessage() for record in caplog.records if "cache" in record.getMessage()]
    assert len(said) == (0 if kind == "folder" else 1)
    if kind != "folder":
        assert str(base) in said[0]
        assert base.with_name("measured.sqlite.damaged").exists()
        assert measured(place).decoded == 0


def test_many_runs_share_the_table(place):
    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(lambda _: levels(measured(place)), range(4)))
    assert all(each == found[0] for each in found)


@pytest.mark.parametrize("change", ["grows", "replaced", "removed"])
def test_a_frame_that_changes_while_it_is_measured_is_named(place, monkeypatch, change):
    path = place / "s" / "IMG_0004.dng"
    other = place / "other.dng"
    shutil.copy(place / "s" / "IMG_0003.dng", other)
    honest, once = measure_units.cut, threading.Event()

    def cut(mosaic, patch):
        if not once.is_set():
            once.set()
            if change == "grows":
                with path.open("ab") as stream:
                    stream.write(b"more")
            elif change == "replaced":
                other.replace(path)
            else:
                path.unlink()
        return honest(mosaic, patch)

    def here(work, *args, room_bytes, news):
        return work(news, *args)

    monkeypatch.setattr(measure_units, "cut", cut)
    monkeypatch.setattr(measure, "decode_apart", here)
    with pytest.raises(FrameError, match=r"IMG_0004\.dng"):
        measured(place)
