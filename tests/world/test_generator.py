"""The second world itself: without its errors the program finds its truth."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from profiler.calibration import pipeline
from profiler.exposure.readings import parse_reading
from profiler.records import Meter
from profiler.standards import AIM_ISO12232_STOPS

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from world import meter, shoot
from world.habits import normal
from world.worlds import WORLDS

PLAIN = WORLDS[0]


@pytest.fixture
def no_errors(monkeypatch):
    for name in ("REPEATABILITY_EV", "IRIS_EV", "CARD_EV"):
        monkeypatch.setattr(shoot, name, 0.0)


@pytest.mark.parametrize("mode", ["spot", "incident-flat"])
def test_truth_is_found_where_nothing_errs(no_errors, mode):
    world = replace(PLAIN, frame_error=normal(1e-4), mode=mode)
    series = shoot.shoot(world, 4)
    profile = pipeline.fit(series.measurement, series.sheet)
    for result in profile.results:
        true = series.headroom_ev[result.iso] - AIM_ISO12232_STOPS + series.given_ev
        assert result.offset_ev.value == pytest.approx(true, abs=0.006)


def test_what_is_given_moves_the_offset():
    series = shoot.shoot(replace(PLAIN, frame_error=normal(1e-4)), 5)
    profile = pipeline.fit(series.measurement, series.sheet)
    true = series.headroom_ev[100] - AIM_ISO12232_STOPS
    assert abs(series.given_ev) > 0.02
    assert profile.results[0].offset_ev.value - true == pytest.approx(series.given_ev, abs=0.006)


@pytest.mark.parametrize("display", sorted({world.display for world in WORLDS}))
def test_the_meter_means_what_it_shows(display):
    rng = np.random.default_rng(8)
    mode = "incident-flat" if display.startswith("lx") else "spot"
    for ev in rng.uniform(8.0, 12.0, 50):
        text, meant = meter.reading(display, float(ev), rng)
        if display == "halves" and ("f/13 " in text or "f/1.2 " in text):
            continue  # marks of thirds too, where they stand for other values
        assert parse_reading(text).metered_ev100(mode, Meter()) == pytest.approx(meant, abs=1e-9)
        step = {"full stops": 1.0, "EV whole": 1.0, "halves": 0.5, "thirds": 1 / 3}
        assert abs(meant - ev) <= 0.5001 * step.get(display, 0.15)


def test_a_seed_gives_one_series():
    first, second = shoot.shoot(PLAIN, 7), shoot.shoot(PLAIN, 7)
    assert first.measurement == second.measurement
    assert first.sheet == second.sheet
    assert shoot.shoot(PLAIN, 8).headroom_ev != first.headroom_ev
