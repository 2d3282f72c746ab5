"""The steps offered gain what they promise: by hand, in the simulator, in the second world."""

from __future__ import annotations

import itertools
import math
import re
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from profiler import simulate
from profiler.calibration import pipeline
from profiler.calibration.assemble import next_steps as steps_module
from profiler.calibration.assemble.next_steps import (
    finer_display,
    more_readings,
    next_steps,
)
from profiler.calibration.fit import budget
from profiler.calibration.fit.montecarlo import half_width_ev
from profiler.files.sheet import parse_sheet
from profiler.records import Meter
from profiler.results import Source
from profiler.show.calibration.profile import profile_answer, step_words
from profiler.simulate.memory import measure_in_memory

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from world.shoot import shoot
from world.worlds import WORLDS

ROWS = (
    budget.averaged(Source.METER_REPEATABILITY, 0.1, "", share=1.0),
    budget.averaged(Source.METER_RESOLUTION, 0.05, "", share=1.0),
    budget.bounded(Source.APERTURE_MARK, 0.05, ""),
    budget.stated(Source.LIGHT_DRIFT, 0.016, ""),
)
R3 = math.sqrt(3.0)


def half(estimate) -> float:
    return 0.5 * (estimate.high - estimate.low)


def rows_by_name(rows):
    return {row.source: row.contribution_ev for row in rows}


def calibration(seed, readings=1, step=0.1, mode="spot", labels=(400,)):
    """A simulated series read so often on a display of that step, its light off the steps."""
    rng = np.random.default_rng(seed)
    ev = 10.0 + rng.uniform()
    spec = simulate.standard_series(
        simulate.load_body("halden-h2"),
        seed,
        labels=labels,
        mode=mode,
        size=(96, 64),
        ev100=ev,
        shutter_scatter_ev=0.03,
    )
    measurement, sheet = measure_in_memory(spec, 0.6)
    shown = [round((ev + rng.uniform(-0.1, 0.1)) / step) * step for _ in range(readings)]
    rows = [f"*,EV {value:.{2 if step < 0.1 else 1}f},{mode}" for value in shown]
    rows += [f"{row.file},dark," for row in sheet.rows if row.dark]
    typed = parse_sheet("file,reading,mode\n" + "\n".join(rows) + "\n", "sheet.csv")
    return pipeline.fit(measurement, typed, light="daylight", meter=Meter(resolution_ev=step))


def test_three_more_readings_by_hand():
    """JCGM 100, 4.2.3: of four readings half of one's error is left, and of their rounding too.

    0.1/sqrt(3)/2 = 0.02887; 0.05/sqrt(3)/2 = 0.01443; a single label's drift is read at both ends.
    """
    after = rows_by_name(more_readings(ROWS, 3, 1))
    assert after["meter repeatability"] == pytest.approx(0.1 / R3 / 2.0)
    assert after["meter resolution"] == pytest.approx(0.05 / R3 / 2.0)
    assert after["light drift"] == 0.0
    assert after["aperture mark"] == pytest.approx(0.05 / R3)
    # of three labels the outer ones lie a third of the series off its middle, not five sixths
    assert rows_by_name(more_readings(ROWS, 3, 3))["light drift"] == pytest.approx(0.016 * 0.4)


def test_coarse_steps_dont_average():
    """Readings of +-0.1 EV don't move over steps of a third: rounding errs alike each time."""
    coarse = (ROWS[0], budget.averaged(Source.METER_RESOLUTION, 1.0 / 6.0, "", share=1.0))
    after = rows_by_name(more_readings(coarse, 3, 1))
    assert after["meter resolution"] == pytest.approx(1.0 / 6.0 / R3)
    assert rows_by_name(finer_display(coarse))["meter resolution"] == pytest.approx(0.005 / R3)


def test_promises_are_kept():
    """Three more readings, and a display of hundredths, shot by the simulator: within 20 %."""
    for seed in range(2):
        before = calibration(seed).results[0]
        four = calibration(seed, readings=4).results[0]
        fine = calibration(seed, step=0.01).results[0]
        promised = half_width_ev(more_readings(before.budget, 3, 1))
        assert half(four.offset_ev) == pytest.approx(promised, rel=0.2)
        assert promised < 0.75 * half(before.offset_ev)
        assert half(fine.offset_ev) == pytest.approx(
            half_width_ev(finer_display(before.budget)), rel=0.2
        )


def test_a_second_reading_gains_what_is_promised_in_the_second_world():
    one = next(w for w in WORLDS if w.name == "steady light, one reading")
    two = next(w for w in WORLDS if w.name == "steady light, read before and after")
    promised, found = [], []
    for seed in range(6):
        series = shoot(one, seed)
        result = pipeline.fit(series.measurement, series.sheet).results[0]
        promised.append(half_width_ev(more_readings(result.budget, 1, 1)))
        series = shoot(two, seed)
        found.append(half(pipeline.fit(series.measurement, series.sheet).results[0].offset_ev))
    assert np.median(found) == pytest.approx(np.median(promised), rel=0.2)


def test_steps_are_said_with_cost_and_gain():
    profile = calibration(1)
    worst, steps = next_steps(profile.results)
    assert 1 <= len(steps) <= 3
    assert steps[0].before_ev == pytest.approx(half(worst.offset_ev))
    assert all(step.after_ev < 0.96 * step.before_ev for step in steps)
    for one, other in itertools.pairwise(steps):
        assert other.before_ev == one.after_ev
    said = step_words(profile)
    assert said[0].startswith(
        "To know the offset better next time, read the meter three more times"
    )
    assert "(about 2 min)" in said[0]
    before, after = map(float, re.findall(r"± (\d\.\d\d)", said[0]))
    assert (before, after) == (round(steps[0].before_ev, 2), round(steps[0].after_ev, 2))
    assert before > after
    assert profile_answer(profile).steps == said


def test_only_what_helps_is_offered():
    spot = {step.kind for step in next_steps(calibration(1).results)[1]}
    assert "card" not in spot
    result = calibration(1, mode="incident-flat").results[0]
    kinds = [step.kind for step in next_steps([result])[1]]
    assert "card" in kinds
    seen = replace(result, offset_ev=replace(result.offset_ev, lower_bound=True))
    assert next_steps([seen]) == (None, ())
    known = tuple(row for row in result.budget if row.source in ("fit scatter", "straightness"))
    u, dof = budget.combine(known)
    sharp = replace(result, budget=known, offset_ev=budget.expand(0.0, u, dof))
    assert "readings" not in {step.kind for step in next_steps([sharp])[1]}


def test_a_row_that_there_is_not_is_no_step():
    assert steps_module._without(ROWS, Source.CARD_REFLECTANCE) is None
    assert steps_module._shrunk(ROWS, Source.CARD_REFLECTANCE, 0.5) is None
    assert steps_module._without(ROWS, Source.APERTURE_MARK) == (*ROWS[:2], ROWS[3])
    # limits that are as narrow already can't be narrowed
    assert steps_module._limits(ROWS, Source.APERTURE_MARK, 0.05) is None
    narrowed = steps_module._limits(ROWS, Source.APERTURE_MARK, 0.04)
    assert [row.half_width_ev for row in narrowed if row.source == Source.APERTURE_MARK] == [0.04]


def test_one_aperture_can_be_kept_to_and_two_cant():
    """At the calibrated mark the iris's own error cancels; a series at two has no such mark."""
    result = calibration(1).results[0]
    (kept,) = [s for s, _ in steps_module._changes(result, 1) if s.kind == "aperture"]
    assert kept.aperture == result.frames[0].aperture
    frames = (replace(result.frames[0], aperture=11.0), *result.frames[1:])
    both = steps_module._changes(replace(result, frames=frames), 1)
    assert "aperture" not in [step.kind for step, _ in both]
