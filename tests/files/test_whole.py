"""Files are written whole or not at all, and nothing is lost."""

from __future__ import annotations

import errno
import os
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest

from profiler.errors import GreytareError
from profiler.files import atomic
from profiler.files.atomic import new_part, sweep, write_whole
from profiler.files.lock import try_lock


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


def test_two_writers_of_one_new_file_lose_nothing(tmp_path):
    for attempt in range(30):
        path = tmp_path / f"{attempt}.json"
        start = threading.Barrier(4)

        def write(text, path=path, start=start):
            start.wait()
            try:
                write_whole(path, text)
            except GreytareError as error:
                return error.what
            return text

        with ThreadPoolExecutor(4) as pool:
            said = list(pool.map(write, "abcd"))
        assert said.count("a file of this name exists") == 3
        assert path.read_text() in said


def test_two_writers_that_replace_keep_both(tmp_path):
    for attempt in range(30):
        folder = tmp_path / str(attempt)
        folder.mkdir()
        path = folder / "a.json"
        path.write_text("first")
        with ThreadPoolExecutor(4) as pool:
            list(pool.map(lambda text, p=path: write_whole(p, text, replace=True), "abcd"))
        assert sorted(p.read_text() for p in folder.iterdir()) == ["a", "b", "c", "d", "first"]


def test_exclusive_where_there_are_no_links(tmp_path, monkeypatch):
    def no_links(*_):
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_links)
    path = tmp_path / "a.json"
    write_whole(path, "one")
    monkeypatch.setattr("profiler.files.atomic.check_output", lambda path, replace: path)
    with pytest.raises(GreytareError, match="a file of this name exists"):
        write_whole(path, "two")  # as if the other one came between looking and writing
    write_whole(path, "three", replace=True)
    assert sorted(p.read_text() for p in tmp_path.iterdir()) == ["one", "three"]


def test_link_is_written_through(tmp_path):
    real = tmp_path / "folder" / "real.json"
    real.parent.mkdir()
    real.write_text("one")
    link = tmp_path / "link.json"
    link.symlink_to(real)
    kept = write_whole(link, "two", replace=True)
    assert link.is_symlink()
    assert (real.read_text(), kept.read_text(), kept.parent) == ("two", "one", real.parent)
    dangling = tmp_path / "dangling.json"
    dangling.symlink_to(tmp_path / "new.json")
    write_whole(dangling, "three")
    assert (tmp_path / "new.json").read_text() == "three"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes with names are POSIX")
def test_pipe_and_folder_stay(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "folder").mkdir()
    circle = tmp_path / "circle"
    circle.symlink_to(circle)
    for name, words in (("pipe", "a pipe"), ("folder", "a folder"), ("circle", "can't be written")):
        with pytest.raises(GreytareError, match=words):
            write_whole(tmp_path / name, "x", replace=True)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["circle", "folder", "pipe"]


@pytest.mark.parametrize("name", ["x" * 250, "x" * 300, "a\0b", 200, 201])
def test_long_and_impossible_names(tmp_path, name):
    if isinstance(name, int):  # of the whole path
        name = "\0" * (name - len(str(tmp_path)) - 1)
    if len(name) == 250:  # fits, so nothing longer may be made on the way
        write_whole(tmp_path / name, "x")
    else:
        with pytest.raises(GreytareError, match="can't be written") as caught:
            write_whole(tmp_path / name, "x")
        shown = str(tmp_path / name)
        assert caught.value.where == (shown if len(shown) <= 200 else f"{shown[:200]}...")


def test_left_overs_are_swept_and_running_writes_are_not(tmp_path):
    (tmp_path / ".greytare-0123.part").write_text("half")
    with new_part(tmp_path) as (part, _):
        assert sweep(tmp_path) == 1
        assert part.exists()
    assert list(tmp_path.iterdir()) == []


def test_a_part_that_was_swept_before_it_was_locked_is_made_anew(tmp_path, monkeypatch):
    swept = []

    def lock_after_a_sweep(descriptor):
        if not swept:
            swept.extend(tmp_path.iterdir())
            swept[0].unlink()
        return try_lock(descriptor)

    monkeypatch.setattr(atomic, "try_lock", lock_after_a_sweep)
    with new_part(tmp_path) as (part, stream):
        assert part.exists()
        assert part not in swept
        stream.write(b"whole")
        part.rename(tmp_path / "kept")
    assert (tmp_path / "kept").read_bytes() == b"whole"


def test_the_folder_is_swept_before_the_first_write(tmp_path):
    (tmp_path / ".greytare-0123.part").write_text("half")
    write_whole(tmp_path / "a.json", "one")
    assert [p.name for p in tmp_path.iterdir()] == ["a.json"]
