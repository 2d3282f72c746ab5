"""What readings and a light that moves bring to the budget, on tables made by hand."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.calibration import pipeline
from profiler.errors import MeasureError
from profiler.files.level_table import read_table
from profiler.files.sheet import parse_sheet
from profiler.records import Meter

DENOMINATORS = (1024, 512, 256, 128, 64, 32, 16, 8, 4, 2)
MARKS = tuple(1.0 / d for d in (1000, 500, 250, 125, 60, 30, 15, 8, 4, 2))


def profile(tmp_path, readings, *, scatter_ev=0.02, drift_ev=0.0, seed=1, meter=None, frames=10):
    """Fit frames of one label, a stop apart in mixed order, the last ones beyond clip.

    readings: texts for every file, or a dict of file -> text.
    """
    rng = np.random.default_rng(seed)
    order = rng.permutation(len(MARKS))[:frames]
    rows = ["file,time_s,f_number,iso,R,G,B"]
    for place, k in enumerate(order):
        light = 2.0 ** (rng.normal(0.0, scatter_ev) + drift_ev * place / (frames - 1))
        signal = np.array([6000.0, 14000.0, 9000.0]) * 8.0 / DENOMINATORS[k] * light
        level = np.minimum(64.0 + signal, 16383.0)
        cells = ",".join(f"{v:.2f}" for v in level)
        rows.append(f"f{place}.dng,{MARKS[k]},8,100,{cells}")
    rows += [f"dark{k}.dng,0.01,8,100,64.0,64.1,63.9" for k in range(2)]
    table = tmp_path / "levels.csv"
    table.write_text("\n".join(rows) + "\n")
    if isinstance(readings, dict):
        lines = [f"{file},{text},spot" for file, text in readings.items()]
    else:
        lines = [f"*,{text},spot" for text in readings]
    lines += ["dark0.dng,dark,", "dark1.dng,dark,"]
    sheet = parse_sheet("\n".join(["file,reading,mode", *lines]) + "\n", "sheet.csv")
    return pipeline.fit(read_table(table), sheet, meter=meter or Meter())


def row(result, source):
    return next(r for r in result.budget if r.source == source)


def test_readings_for_all_frames_average(tmp_path):
    one = profile(tmp_path, ["EV 10.0"]).results[0]
    four = profile(tmp_path, ["EV 10.0", "EV 10.1", "EV 9.9", "EV 10.0"]).results[0]
    assert row(one, "meter repeatability").sensitivity == pytest.approx(1.0, abs=0.01)
    # JCGM 100:2008, 4.2.3: the mean of four varies half as much
    assert row(four, "meter repeatability").sensitivity == pytest.approx(0.5, abs=0.01)
    assert row(four, "meter resolution").sensitivity == pytest.approx(0.5, abs=0.01)
    assert four.offset_ev.u < 0.8 * one.offset_ev.u


def test_a_coarse_display_does_not_average(tmp_path):
    meter = Meter(resolution_ev=1.0 / 3.0)
    four = profile(tmp_path, ["EV 10.0"] * 4, meter=meter).results[0]
    assert row(four, "meter repeatability").sensitivity == pytest.approx(0.5, abs=0.01)
    assert row(four, "meter resolution").sensitivity == pytest.approx(1.0, abs=0.01)


def test_a_reading_taken_anew_for_every_frame_counts_as_many(tmp_path):
    values = (10.0, 10.1, 9.9, 10.0, 10.1, 10.0, 9.9, 10.1, 10.0, 9.9)
    own = {f"f{k}.dng": f"EV {v}" for k, v in enumerate(values)}
    anew = profile(tmp_path, own).results[0]
    filled = profile(tmp_path, dict.fromkeys(own, "EV 10.0")).results[0]
    assert row(anew, "meter repeatability").sensitivity < 0.45
    # the same value in every row is one reading, copied down the column
    assert row(filled, "meter repeatability").sensitivity == pytest.approx(1.0, abs=0.01)


def test_unseen_drift_is_a_row_with_one_reading_and_with_two_a_small_one(tmp_path):
    one = profile(tmp_path, ["EV 10.0"], scatter_ev=0.05).results[0]
    assert row(one, "light drift").contribution_ev > 0.005
    drifted = profile(tmp_path, ["EV 10.0"], drift_ev=0.4).results[0]
    assert row(drifted, "light drift").contribution_ev > 0.15
    assert "trend" in {flag.name for flag in drifted.flags}
    ends = profile(tmp_path, ["EV 10.0", "EV 10.4"], drift_ev=0.4).results[0]
    assert row(ends, "light drift").contribution_ev < 0.1
    assert "light-drift" in {flag.name for flag in ends.flags}


def test_readings_within_the_meters_own_figures_are_no_drift(tmp_path):
    result = profile(tmp_path, ["EV 10.0", "EV 10.2"]).results[0]
    assert "light-drift" not in {flag.name for flag in result.flags}


def test_an_interval_that_nobody_can_act_on_is_refused(tmp_path):
    with pytest.raises(MeasureError, match=r"too wide to act on: most of it comes from the"):
        profile(tmp_path, ["EV 10.0"], meter=Meter(repeatability_ev=2.0))


def test_a_channel_without_a_usable_frame_is_named(tmp_path):
    rows = ["time_s,f_number,iso,R,G,B"]
    for k, mark in enumerate(MARKS):
        green = min(64 + 14000 * 8 / DENOMINATORS[k], 16383)
        rows.append(f"{mark},8,100,16383,{green:.1f},{green:.1f}")
    table = tmp_path / "levels.csv"
    table.write_text("\n".join(rows) + "\n")
    sheet = parse_sheet("file,reading,mode\n*,EV 10.0,spot\n", "sheet.csv")
    with pytest.raises(MeasureError, match="channel R has no frame on the straight part"):
        pipeline.fit(read_table(table), sheet)


def test_frames_of_one_exposure_cannot_tell_an_unknown_black(tmp_path):
    table = tmp_path / "levels.csv"
    table.write_text("time_s,f_number,iso,R,G,B\n" + "0.016667,8,100,800,1600,1200\n" * 4)
    sheet = parse_sheet("file,reading,mode\n*,EV 10.0,spot\n", "sheet.csv")
    with pytest.raises(MeasureError, match="black level of channel R isn't known"):
        pipeline.fit(read_table(table), sheet)
