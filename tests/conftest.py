"""Fixtures shared by all tests."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from profiler import simulate

SHARED_DATA = Path(__file__).resolve().parents[2] / "shared" / "data"


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """Folder of real measurements that lies beside the project, not in it."""
    if not SHARED_DATA.is_dir():
        pytest.skip(f"the real measurements are not on this machine ({SHARED_DATA} is absent)")
    return SHARED_DATA


@pytest.fixture(scope="session")
def short_plan(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of a series that holds all frames of the short plan at ISO 400; not to be changed."""
    spec = simulate.standard_series(
        simulate.load_body("halden-h2"),
        4,
        labels=(400,),
        frames_per_label=10,
        size=(240, 160),
        shutter_scatter_ev=0.02,
    )
    return simulate.write_series(spec, tmp_path_factory.mktemp("shelf") / "series").folder


@pytest.fixture(scope="session", autouse=True)
def _no_waiting_for_the_disk() -> Iterator[None]:
    """Leave out the wait for the disk: no test here cuts the power, and it costs 7 ms a file.

    That files are written through is tested by a disk that refuses (tests/files/test_whole.py).
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", lambda _file: None)
        yield
