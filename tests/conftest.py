"""Fixtures shared by all tests."""

from __future__ import annotations

from pathlib import Path

import pytest

SHARED_DATA = Path(__file__).resolve().parents[2] / "shared" / "data"


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """Folder of real measurements that lies beside the project, not in it."""
    if not SHARED_DATA.is_dir():
        pytest.skip(f"the real measurements are not on this machine ({SHARED_DATA} is absent)")
    return SHARED_DATA
