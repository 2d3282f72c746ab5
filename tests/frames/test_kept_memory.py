"""Freed memory kept for the next frame changes nothing but the time."""

from __future__ import annotations

import ctypes

import numpy as np
import pytest

from profiler.frames.kept_memory import kept_memory


def _filled(n: int) -> float:
    return float(np.full(n, 2, dtype=np.uint16).sum())


def test_inside_one_another_and_afterwards() -> None:
    with kept_memory(), kept_memory():
        assert _filled(10_000_000) == 20e6
    assert _filled(10_000_000) == 20e6


def test_errors_pass() -> None:
    with pytest.raises(KeyError, match="frame"), kept_memory():
        raise KeyError("frame")


def test_without_glibc_nothing_happens(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ctypes, "CDLL", lambda name: object())
    with kept_memory():
        assert _filled(1000) == 2000.0
