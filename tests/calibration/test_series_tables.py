"""What one series tells beyond its results: shutter, ISO steps, modes on one card, slips."""

from __future__ import annotations

from dataclasses import replace

import pytest

from profiler import simulate
from profiler.calibration import pipeline
from profiler.records import Meter
from profiler.simulate.memory import measure_in_memory


def spec(**options):
    return simulate.standard_series(
        simulate.load_body("halden-h2"), 3, pairs=True, darks=2, size=(192, 128), **options
    )


def fitted(made, **options):
    return pipeline.fit(*measure_in_memory(made), **options)


def test_shutter_table_shows_a_late_shutter():
    made = simulate.FAULTS["shutter-late"].apply(spec(), 0.3)
    rows = fitted(made).shutter
    assert [row.time_s for row in rows] == sorted(row.time_s for row in rows)
    # 0.3 EV at 1/1000 s is 0.23 ms: half a stop and more at the shortest times, nothing at long
    assert rows[0].deviation_ev - rows[-1].deviation_ev > 0.1
    assert all(row.u_ev > 0.0 and row.frames >= 1 for row in rows)


def test_iso_steps_of_the_body():
    steps = fitted(spec()).iso_steps
    assert [(s.below, s.iso) for s in steps] == [(100, 200), (200, 400)]
    for step in steps:
        assert step.step_ev == pytest.approx(1.0, abs=0.05)
        assert (step.digital, step.dual_gain) == ("", False)


def test_two_modes_on_one_card():
    made = spec(mode=("spot", "incident-flat"))
    made = replace(made, meter=replace(made.meter, resolution_ev=0.0))
    profile = fitted(made)
    assert len(profile.modes) == 3
    for row in profile.modes:
        # K 12.5, C 250, 18 % card: 0.1965 EV by the constants alone (computed, ISO 2720)
        assert abs(row.expected_ev) == pytest.approx(0.1965, abs=1e-4)
        assert row.gap_ev == pytest.approx(row.expected_ev, abs=1e-6)
        assert row.left_ev == pytest.approx(0.0, abs=1e-6)
    assert not any(flag.name == "modes-disagree" for r in profile.results for flag in r.flags)


def test_a_wrong_receptor_shows_beside_a_second_mode():
    made = spec(mode=("spot", "incident-dome"))
    made = replace(
        made,
        meter=replace(made.meter, resolution_ev=0.0),
        sheet_modes=("spot", "incident-flat"),
    )
    flags = {flag.name for r in fitted(made).results for flag in r.flags}
    assert "modes-disagree" in flags


def test_an_iso_left_on_the_meter_needs_a_second_clue():
    made = spec(mode=("spot", "incident-flat"))
    measurement, sheet = measure_in_memory(made)
    moved = tuple(
        replace(row, reading=replace(row.reading, value=row.reading.value + 2.0))
        if row.mode == "spot"
        else row
        for row in sheet.rows
    )
    both = pipeline.fit(measurement, replace(sheet, rows=moved))
    clue = [f.detail for r in both.results for f in r.flags if f.name == "modes-disagree"]
    assert any("meter left at another ISO" in detail for detail in clue)
    alone = tuple(row for row in moved if row.mode != "incident-flat")
    one = pipeline.fit(measurement, replace(sheet, rows=alone))
    said = " ".join(f.detail for r in one.results for f in r.flags)
    assert "another ISO" not in said


def test_a_slip_is_named_and_moves_nothing():
    clean = spec(shutter_scatter_ev=0.02)
    slipped = simulate.FAULTS["mistyped-reading"].apply(clean)
    before, after = fitted(clean), fitted(slipped)
    for a, b in zip(before.results, after.results, strict=True):
        assert abs(a.offset_ev.value - b.offset_ev.value) <= 0.03
    (flag,) = [f for r in after.results for f in r.flags if f.name == "slip"]
    assert flag.where.startswith("IMG_")
    assert "1.0 stop off the others" in flag.detail
    marked = [f.file for r in after.results for f in r.frames if "slip" in f.flags]
    assert marked == [flag.where]


def test_meter_figures_change_the_budget():
    made = spec(shutter_scatter_ev=0.02)
    wide = fitted(made).results[0]
    narrow = fitted(made, meter=Meter(repeatability_ev=0.02, resolution_ev=0.01)).results[0]
    assert narrow.offset_ev.u < 0.7 * wide.offset_ev.u
    assert {row.source for row in wide.budget} >= {
        "fit scatter",
        "black",
        "clip",
        "meter repeatability",
        "meter resolution",
        "aperture mark",
    }


def test_monte_carlo_takes_over_where_one_rectangle_rules():
    made = spec()
    result = fitted(made, meter=Meter(repeatability_ev=1.0)).results[0]
    assert [f.name for f in result.flags if f.name == "monte-carlo"] == ["monte-carlo"]
    half = 0.5 * (result.offset_ev.high - result.offset_ev.low)
    assert half == pytest.approx(0.96, abs=0.03)  # 1.13 by k = 1.96


def test_a_bend_in_a_close_bracket_is_a_bend_and_nothing_else():
    """Third-stop steps into a knee: no slips, no black, the right time rule."""
    marks = "1/250 1/200 1/160 1/125 1/100 1/80 1/60 1/50 1/40 1/30 1/25 1/20 1/15 1/13 1/10 1/8"
    base = simulate.standard_series(
        simulate.load_body("halden-h2"), 21, labels=(400,), ev100=10.0, darks=2, size=(240, 160)
    )
    lit = next(shot for shot in base.shots if not shot.dark)
    shots = [replace(lit, time=mark) for mark in [*marks.split(), "1/5", "1/4"] for _ in range(2)]
    base = replace(base, shots=(*shots, *(shot for shot in base.shots if shot.dark)))
    (result,) = fitted(simulate.FAULTS["knee"].apply(base, 0.6)).results
    assert [flag.name for flag in result.flags] == ["bends-before-clip"]
    assert result.time_rule.used == "exact"
    assert result.linear_headroom_ev.value < result.clip_headroom_ev.value - 0.5


def test_read_noise_without_pairs_is_no_less_than_the_truth():
    made = simulate.standard_series(
        simulate.load_body("halden-h2"), 42, labels=(100,), darks=2, size=(480, 320)
    )
    (result,) = fitted(made).results
    for channel in result.channels.values():
        assert channel.read_noise_e == pytest.approx(5.2, rel=0.06)


def test_the_strongest_channel_is_named_where_none_clipped():
    made = simulate.FAULTS["clip-missing"].apply(spec())
    assert {result.first_to_clip for result in fitted(made).results} == {"G"}
