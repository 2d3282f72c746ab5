"""An offset at the aperture of its calibration doesn't carry the iris's error; anywhere else it
does."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import pytest

from profiler import simulate
from profiler.calibration import pipeline
from profiler.calibration.fit import budget
from profiler.onset import margins
from profiler.onset.metered import read_meter_texts
from profiler.onset.plan import PlanAsk, planned
from profiler.onset.profile import Profile
from profiler.records import Meter
from profiler.results import Source
from profiler.show.onset.settings import settings_answer
from profiler.simulate.memory import measure_in_memory

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from world.tally import run
from world.worlds import WORLDS


def half(estimate) -> float:
    return 0.5 * (estimate.high - estimate.low)


def test_the_second_interval_is_the_first_without_the_iris(profile):
    result = profile.find(400)
    here = result.at_measured_aperture
    assert here.aperture == 5.6
    kept = [row for row in result.budget if row.source != "aperture mark"]
    u, _ = budget.combine(kept)
    assert here.offset_ev.u == pytest.approx(u)
    assert here.offset_ev.value == result.offset_ev.value
    assert half(here.offset_ev) < 0.95 * half(result.offset_ev)
    assert result.exposure_index.low < here.exposure_index.low < here.exposure_index.value
    assert here.clip_headroom_ev.high < result.clip_headroom_ev.high


@pytest.mark.parametrize(("aperture", "narrow"), [("f/5.6", True), ("f/8", False)])
def test_settings_take_the_interval_that_applies(profile, aperture, narrow):
    result = profile.find(400)
    found = profile.settings("EV 10.3", iso=400, aperture=aperture)
    expected = result.at_measured_aperture.offset_ev if narrow else result.offset_ev
    assert half(found.dial.offset_ev) == pytest.approx(half(expected))
    assert found.setup.iris is not narrow
    notes = [note.text for note in settings_answer(found).notes]
    assert ("the iris's own error cancels" in " ".join(notes)) is narrow
    assert ("the iris may stand" in " ".join(notes)) is not narrow


def test_an_older_profile_gets_it_from_its_budget(profile):
    result = profile.find(400)
    older = replace(result, at_measured_aperture=None)
    found = margins.clip_headroom(older, iris=False)
    assert half(found) == pytest.approx(
        half(result.at_measured_aperture.clip_headroom_ev), abs=0.01
    )
    assert half(margins.clip_headroom(older, iris=True)) == half(result.clip_headroom_ev)


def test_a_source_of_nothing_is_no_row(profile):
    rows = [row for result in profile.data.results for row in result.budget]
    assert all(row.contribution_ev > 0.0 for row in rows)
    still = replace(profile.find(400), frame_scatter_ev=0.0)
    assert margins.frame_rows(still, iris=False) == ()
    certain = replace(still.footroom_ev.snr10, u=0.0)
    noises = margins.floor_rows(still, still.footroom_ev, certain, iris=True)
    assert Source.NOISE not in [row.source for row in noises]
    sure = Meter(repeatability_ev=0.0)
    read = read_meter_texts("EV 10.3", "spot", sure).rows()
    assert [row.source for row in read] == [Source.READING_STEP]
    rows = planned(PlanAsk(isos=(100,)), meter=sure).budget
    assert Source.METER_REPEATABILITY not in [row.source for row in rows]


def test_there_is_none_where_the_iris_moved():
    body = simulate.load_body("halden-h2")
    spec = simulate.standard_series(body, 3, labels=(400,), size=(96, 64))
    moved = tuple(
        replace(shot, aperture="8") if i % 2 and not shot.dark else shot
        for i, shot in enumerate(spec.shots)
    )
    measurement, sheet = measure_in_memory(replace(spec, shots=moved), 0.6)
    result = pipeline.fit(measurement, sheet).results[0]
    assert result.aperture_band == (5.6, 8.0)
    assert result.at_measured_aperture is None
    answer = Profile(pipeline.fit(measurement, sheet)).settings("EV 10", iso=400, aperture="f/8")
    assert answer.setup.iris


def test_it_holds_the_truth_in_the_second_world():
    """Normal iris errors of 0.027 EV: fewer than 16 of 20 hold once in 400 tries."""
    world = next(w for w in WORLDS if w.name == "steady light, read before and after")
    runs = [run(world, seed) for seed in range(20)]
    assert sum(r.here for r in runs) >= 16
    assert all(r.here_half_ev < r.half_ev for r in runs)


def test_the_mean_of_readings_is_no_rectangle():
    """Four readings of +-0.1 EV: 1.96 x 0.1/sqrt(12) = 0.0566; a rectangle would give 0.0475."""
    one = budget.averaged(Source.METER_REPEATABILITY, 0.1, "", share=1.0)
    four = budget.averaged(Source.METER_REPEATABILITY, 0.1, "", share=0.5)
    assert one.distribution == "rectangular"
    assert four.distribution == "normal"
    assert four.contribution_ev == pytest.approx(0.5 * one.contribution_ev)
