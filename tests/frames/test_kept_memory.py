"""Freed memory kept for the next frame, where the C library can, and only inside the block."""

from __future__ import annotations

import ctypes
import sys

import numpy as np
import pytest

from profiler.frames.kept_memory import kept_memory

MMAP, TRIM, MIB = -3, -1, 1 << 20


class Libc:
    """A C library that notes what is asked of it."""

    def __init__(self, takes: bool) -> None:
        self.takes, self.asked = takes, []

    def mallopt(self, parameter: int, size: int) -> int:
        self.asked.append((parameter, size))
        return int(self.takes)

    def malloc_trim(self, pad: int) -> int:
        self.asked.append(("trim", pad))
        return 1


@pytest.fixture
def libc(monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> Libc:
    fake = Libc(getattr(request, "param", True))
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setattr(ctypes, "CDLL", lambda name: fake)
    return fake


def test_thresholds_are_put_back(libc: Libc) -> None:
    with kept_memory():
        assert libc.asked == [(MMAP, 1024 * MIB), (TRIM, 1024 * MIB)]
    assert libc.asked[2:] == [(MMAP, 32 * MIB), (TRIM, 64 * MIB), ("trim", 0)]


def test_also_after_an_error(libc: Libc) -> None:
    with pytest.raises(KeyError, match="frame"), kept_memory():
        raise KeyError("frame")
    assert libc.asked[-1] == ("trim", 0)


@pytest.mark.parametrize("libc", [False], indirect=True)
def test_a_library_that_refuses_is_left_alone(libc: Libc) -> None:
    with kept_memory():
        pass
    assert libc.asked == [(MMAP, 1024 * MIB)]


def test_another_library_is_left_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ctypes, "CDLL", lambda name: object())
    with kept_memory():
        pass


def test_with_the_library_of_this_machine() -> None:
    with kept_memory(), kept_memory():
        assert float(np.full(10_000_000, 2, dtype=np.uint16).sum()) == 20e6
