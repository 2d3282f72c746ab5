"""Fixtures of the fleet's tests; their helpers can be imported by worker processes, too."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import fleetlab


@pytest.fixture(scope="session")
def small_fleet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Six series of levels; read only."""
    return fleetlab.levels_fleet(tmp_path_factory.mktemp("small") / "root", 6)


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A cache of measured frames for each test."""
    monkeypatch.setenv("GREYTARE_CACHE", str(tmp_path / "cache"))
