"""Files that are still being copied are waited for, by a clock that the test turns."""

from __future__ import annotations

import pytest

from profiler.errors import FrameError
from profiler.follow.arrivals import PATIENCE_S, STILL_S, TRY_AGAIN_S, Arrivals
from profiler.web.folders import is_inside


class Clock:
    now = 100.0

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    return Clock()


def names(paths):
    return [path.name for path in paths]


def test_file_that_keeps_still_is_tried_and_one_that_grows_is_not(tmp_path, clock):
    arrivals = Arrivals(tmp_path, clock)
    growing, still = tmp_path / "a.dng", tmp_path / "b.dng"
    growing.write_bytes(b"1")
    still.write_bytes(b"whole")
    assert arrivals.look() == []  # nothing has kept still for any time yet
    assert arrivals.waiting == ("a.dng", "b.dng")
    clock.now += STILL_S
    growing.write_bytes(b"12")
    assert names(arrivals.look()) == ["b.dng"]
    arrivals.accept("b.dng")
    assert arrivals.waiting == ("a.dng",)
    assert arrivals.whole == {"b.dng"}
    clock.now += STILL_S
    assert names(arrivals.look()) == ["a.dng"]


def test_unreadable_file_is_tried_again_and_at_last_called_broken(tmp_path, clock):
    arrivals = Arrivals(tmp_path, clock)
    (tmp_path / "a.dng").write_bytes(b"half")
    arrivals.look()
    clock.now += STILL_S
    assert names(arrivals.look()) == ["a.dng"]
    arrivals.refuse("a.dng", FrameError("it is cut short", "a.dng", "Copy it again"))
    assert arrivals.look() == []
    assert arrivals.waiting == ("a.dng",)
    assert not arrivals.broken
    clock.now += TRY_AGAIN_S
    assert names(arrivals.look()) == ["a.dng"]
    clock.now += PATIENCE_S
    assert arrivals.look() == []
    assert arrivals.waiting == ()
    assert "cut short" in str(arrivals.broken["a.dng"])
    (tmp_path / "a.dng").write_bytes(b"the rest came after all")
    arrivals.look()
    assert arrivals.waiting == ("a.dng",)
    assert not arrivals.broken


def test_accepted_file_that_changes_is_waited_for_again(tmp_path, clock):
    arrivals = Arrivals(tmp_path, clock)
    (tmp_path / "a.dng").write_bytes(b"zeros where the rest will be")
    arrivals.look()
    arrivals.accept("a.dng")
    assert arrivals.waiting == ()
    (tmp_path / "a.dng").write_bytes(b"the true bytes of the same file.")
    arrivals.look()
    assert arrivals.waiting == ("a.dng",)


def test_what_can_be_no_frame_is_passed_over(tmp_path, clock):
    for name in ("sheet.csv", ".a.dng", "a.dng.part", "a.patch.png"):
        (tmp_path / name).write_bytes(b"x")
    (tmp_path / "b.dng").mkdir()
    (tmp_path / "c.dng").symlink_to(tmp_path / "gone")
    arrivals = Arrivals(tmp_path, clock)
    arrivals.look()
    assert arrivals.waiting == ()


def test_removed_file_is_forgotten(tmp_path, clock):
    arrivals = Arrivals(tmp_path, clock)
    (tmp_path / "a.dng").write_bytes(b"x")
    arrivals.look()
    (tmp_path / "a.dng").unlink()
    arrivals.look()
    assert arrivals.waiting == ()
    assert arrivals.signature("a.dng") is None


def test_missing_folder_is_said(tmp_path):
    with pytest.raises(FrameError, match="the folder can't be read"):
        Arrivals(tmp_path / "nowhere").look()


def test_link_out_of_what_may_be_used_is_never_tried(tmp_path, clock):
    start, elsewhere = tmp_path / "start", tmp_path / "elsewhere.dng"
    start.mkdir()
    elsewhere.write_bytes(b"not ours")
    (start / "a.dng").symlink_to(elsewhere)
    (start / "b.dng").write_bytes(b"ours")
    (start / "c.dng").symlink_to(start / "b.dng")
    arrivals = Arrivals(start, clock, lambda path: is_inside(start.resolve(), path))
    arrivals.look()
    assert arrivals.waiting == ("b.dng", "c.dng")
