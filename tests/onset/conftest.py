"""A small calibrated body, made in memory."""

from __future__ import annotations

import pytest

from profiler import simulate
from profiler.calibration import pipeline
from profiler.onset.profile import Profile
from profiler.simulate.memory import measure_in_memory


def calibrate(mode: str | tuple[str, ...] = "spot", **options) -> Profile:
    """A profile of the invented body Halden H2 from small frames."""
    settings = {"labels": (100, 400), "pairs": True, "darks": 2, "size": (96, 64)} | options
    spec = simulate.standard_series(simulate.load_body("halden-h2"), 11, mode=mode, **settings)
    measurement, sheet = measure_in_memory(spec, 0.6)
    return Profile(pipeline.fit(measurement, sheet, light=spec.scene.light))


@pytest.fixture(scope="session")
def profile() -> Profile:
    """Spot readings at ISO 100 and 400, f/5.6, daylight."""
    return calibrate()


@pytest.fixture(scope="session")
def wide_profile() -> Profile:
    """The same at f/2, where a body may multiply its raw values."""
    return calibrate(aperture="2", labels=(400,))


@pytest.fixture(scope="session")
def two_modes() -> Profile:
    """Spot and flat incident readings of one series at ISO 400."""
    return calibrate(("spot", "incident-flat"), labels=(400,))


@pytest.fixture(scope="session")
def flash_profile() -> Profile:
    """Flash, read at the card by a flat receptor."""
    return calibrate("flash-flat", labels=(100,))
