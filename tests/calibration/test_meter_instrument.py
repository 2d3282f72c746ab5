"""A handheld meter measured by a body: linearity, repeatability, display step, refusals."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner

from profiler import simulate
from profiler.calibration import pipeline
from profiler.calibration.instruments.light_levels import Shared, repeat_scatter, solve_levels
from profiler.calibration.instruments.meter import check_meter, compare_meters
from profiler.calibration.instruments.rounded import behind_readings, difference, interval
from profiler.cli.main import greytare
from profiler.errors import GreytareError, MeasureError, SheetError
from profiler.exposure.linearity import straightened
from profiler.files.meter import meter_toml, read_meter, write_meter
from profiler.files.sheet import parse_sheet, read_sheet
from profiler.onset.metered import read_meter_texts
from profiler.records import Linearity, Meter
from profiler.show.instruments import meter_answer, meters_answer
from profiler.simulate.instruments import true_deviations_ev
from profiler.simulate.memory import measure_in_memory

BENT = simulate.HandMeter(bend_ev=0.1)


def series(seed, **options):
    options = {"meter": BENT, "shutter_scatter_ev": 0.02} | options
    return simulate.meter_series(simulate.load_body("halden-h2"), seed, **options)


@pytest.fixture(scope="module")
def walked():
    spec = series(5)
    return spec, *measure_in_memory(spec)


@pytest.fixture(scope="module")
def lamp(tmp_path_factory):
    """A series of real DNG files in a folder."""
    spec = series(2, size=(240, 160), frames_each=2, levels=8)
    folder = tmp_path_factory.mktemp("lamp") / "series"
    simulate.write_series(spec, folder)
    return spec, folder


def held(found, spec):
    true = [ev for _, ev in sorted(true_deviations_ev(spec).items())]
    return [
        level.deviation_ev.low <= ev <= level.deviation_ev.high
        for level, ev in zip(found.levels, true, strict=True)
    ]


def test_through_real_files_a_bend_of_a_tenth_is_found_within_its_interval(lamp):
    spec, folder = lamp
    sheet = read_sheet(folder / "sheet.csv")
    found = check_meter(pipeline.measure(folder, sheet), sheet)
    assert sum(held(found, spec)) >= 7
    assert found.strays
    assert found.step_ev == pytest.approx(0.1)
    assert found.repeatability.low_ev < 0.03 < found.repeatability.high_ev
    first, last = found.levels[0].deviation_ev, found.levels[-1].deviation_ev
    assert first.value - last.value == pytest.approx(0.17, abs=2.5 * np.hypot(first.u, last.u))


def test_a_straight_meter_is_called_straight():
    spec = series(7, meter=simulate.HandMeter())
    found = check_meter(*measure_in_memory(spec))
    assert not found.strays
    assert "straight within" in meter_answer(found).headline
    assert meter_answer(found).tables[0].head[1] == "more than its mean, EV"


def test_the_shutters_scatter_is_taken_off():
    """Shutter 0.06 EV, meter 0.02 EV: the meter isn't blamed for the shutter."""
    spec = series(4, shutter_scatter_ev=0.06, repeatability_ev=0.02, frames_each=4)
    found = check_meter(*measure_in_memory(spec))
    assert found.frame_scatter_ev == pytest.approx(0.06, abs=0.02)
    assert found.repeatability.high_ev < 0.05


def test_one_frame_a_level_needs_an_electronic_shutter():
    spec = series(8, shutter_scatter_ev=0.0)
    measurement, sheet = measure_in_memory(spec)
    first = {shot.power_ev: i for i, shot in reversed(list(enumerate(spec.shots)))}
    keep = {f"IMG_{i + 1:04d}.dng" for i in first.values()}
    keep |= {row.file for row in sheet.rows if row.dark}
    few = replace(measurement, frames=tuple(f for f in measurement.frames if f.file in keep))
    # the readings of the frames that are gone stand beside those that are kept
    kept = sorted(keep)
    rows = []
    for row in sheet.rows:
        file = row.file if row.file in keep else [name for name in kept if name < row.file][-1]
        rows.append(f"{file},{row.reading_text},{row.mode}")
    text = parse_sheet("file,reading,mode\n" + "\n".join(rows) + "\n", "sheet.csv")
    with pytest.raises(MeasureError, match="two frames of one shutter time"):
        check_meter(few, text)
    assert sum(held(check_meter(few, text, electronic_shutter=True), spec)) >= 8


def test_a_frame_without_a_reading_stands_in_the_light_before_it(walked):
    _, measurement, sheet = walked
    silent = replace(
        sheet, rows=tuple(row for i, row in enumerate(sheet.rows) if row.dark or i % 3 != 2)
    )
    found = check_meter(measurement, silent)
    assert [len(level.readings) for level in found.levels] == [2] * 10
    assert [len(level.frames) for level in found.levels] == [3] * 10


def test_refused_without_proof_that_the_body_is_straight():
    spec = series(1)
    body = simulate.load_body("merle-m1")
    mono = simulate.meter_series(body, 1, meter=BENT, shutter_scatter_ev=0.02)
    with pytest.raises(MeasureError, match="nothing in these frames shows"):
        check_meter(*measure_in_memory(mono))
    bent = replace(spec, effects=replace(spec.effects, knee_start=0.5, knee_slope=0.8))
    with pytest.raises(MeasureError, match="response bends"):
        check_meter(*measure_in_memory(bent))


def test_refused_without_black(walked):
    spec, measurement, sheet = walked
    blind = replace(
        measurement,
        frames=tuple(
            replace(f, black_tag_dn={}, masked={})
            for f, shot in zip(measurement.frames, spec.shots, strict=True)
            if not shot.dark
        ),
    )
    lit = replace(sheet, rows=tuple(row for row in sheet.rows if not row.dark))
    with pytest.raises(MeasureError, match="black level isn't known"):
        check_meter(blind, lit)


@pytest.mark.parametrize(
    ("change", "what"),
    [
        (lambda text: text.splitlines()[0] + "\n*,EV 12,spot\n", "no frame has a reading of its"),
        (lambda text: "\n".join(text.splitlines()[:6]) + "\n", "light levels with a reading"),
        (lambda text: re.sub(r"EV [\d.]+,", "f/8 ISO 100,flash-", text), "from pop to pop"),
        (lambda text: text.splitlines()[0] + "\n", "no frame has a reading"),
    ],
)
def test_sheets_that_tell_too_little(walked, change, what):
    _, measurement, sheet = walked
    rows = [f"{row.file},{row.reading_text},{row.mode}" for row in sheet.rows]
    text = "file,reading,mode\n" + "\n".join(rows) + "\n"
    with pytest.raises(SheetError, match=what):
        check_meter(measurement, parse_sheet(change(text), "sheet.csv"))


def test_two_meters_on_the_same_frames(walked):
    _, measurement, sheet = walked
    rng = np.random.default_rng(3)
    rows = []
    for row in sheet.rows:
        text = row.reading_text
        if not row.dark:
            shown = float(text.split()[1]) - 0.3 + 0.03 * (float(text.split()[1]) - 9.0)
            text = f"EV {shown + 0.02 * rng.normal():.2f}"
        rows.append(f"{row.file},{text},{row.mode}")
    other = parse_sheet("file,reading,mode\n" + "\n".join(rows) + "\n", "other.csv")
    found = compare_meters(measurement, sheet, other)
    assert found.differ
    assert found.mean_ev.value == pytest.approx(0.3, abs=0.08)
    inside = sum(
        lv.difference_ev.low <= 0.3 - 0.03 * (lv.shown_ev100 - 9.0) <= lv.difference_ev.high
        for lv in found.levels
    )
    assert inside >= 9
    said = meters_answer(found).headline
    assert "more than the second" in said
    assert "more than chance" in said
    same = compare_meters(measurement, sheet, sheet)
    assert not same.differ
    assert "no more than" in meters_answer(same).headline


def test_the_headline_says_which_way(walked):
    _, measurement, sheet = walked
    found = check_meter(measurement, sheet)
    worst = max(found.levels, key=lambda level: abs(level.deviation_ev.value))
    way = "more" if worst.deviation_ev.value > 0 else "less"
    assert f"shows {way} than its own mean at EV {worst.shown_ev100:.1f}" in (
        meter_answer(found).headline
    )


# --- the meter's file -------------------------------------------------------------------


def test_the_file_gives_the_same_meter_back(walked, tmp_path):
    _, measurement, sheet = walked
    named = Meter(make="Sprig", model='Lm "3"', serial="0031", k_cd_m2=14.0)
    found = check_meter(measurement, sheet, meter=named).meter
    path = tmp_path / "sprig.toml"
    write_meter(found, path, ["made\nby hand"])
    assert read_meter(path) == found
    assert (found.make, found.serial, found.k_cd_m2) == ("Sprig", "0031", 14.0)
    with pytest.raises(GreytareError, match="exists"):
        write_meter(found, path)


@pytest.mark.parametrize(
    ("table", "what"),
    [
        ("[linearity]\nspot = 3\n", "isn't a meter mode"),
        ("[linearity.sport]\nlevel_ev100 = [1, 2]\n", "isn't a meter mode"),
        ("[linearity.spot]\nlevel_ev100 = [1, 2]\n", "a field is missing"),
        ("[linearity.spot]\nlevels = [1, 2]\n", "levels is not known"),
        (
            '[linearity.spot]\nlevel_ev100 = [1, 2]\ndeviation_ev = ["a", 0]\nu_ev = [0, 0]\n',
            "list of numbers",
        ),
        (
            "[linearity.spot]\nlevel_ev100 = [2, 1]\ndeviation_ev = [0, 0]\nu_ev = [0, 0]\n",
            "must rise",
        ),
        (
            "[linearity.spot]\nlevel_ev100 = [1, 2]\ndeviation_ev = [0, 0]\nu_ev = [0, 0, 0]\n",
            "one length",
        ),
        (
            "[linearity.spot]\nlevel_ev100 = [1, 2]\ndeviation_ev = [0, nan]\nu_ev = [0, 0]\n",
            "list of numbers",
        ),
    ],
)
def test_mistakes_in_the_file(tmp_path, table, what):
    path = tmp_path / "m.toml"
    path.write_text(f"[meter]\nmodel = 'Lm-3'\n{table}")
    with pytest.raises(GreytareError, match=what):
        read_meter(path)


CURVE = Linearity(level_ev100=(4.0, 8.0, 12.0), deviation_ev=(0.2, 0.0, -0.1), u_ev=(0.02,) * 3)


@pytest.mark.parametrize(
    ("shown", "true", "u", "limit"),
    [
        (6.0, 5.9, 0.02, 0.0),
        (8.0, 8.0, 0.02, 0.0),
        (12.4, 12.5, 0.02, 0.0),
        (3.0, 3.0, 0.0, 0.2),
        (13.0, 13.0, 0.0, 0.2),
    ],
)
def test_readings_are_corrected_between_levels_and_widened_beyond(shown, true, u, limit):
    found = straightened(shown, "spot", Meter(linearity={"spot": CURVE}))
    assert found.ev100 == pytest.approx(true)
    assert (found.u_ev, found.limit_ev) == pytest.approx((u, limit))
    assert straightened(shown, "incident-flat", Meter(linearity={"spot": CURVE})).ev100 == shown


def test_fit_and_set_take_the_meters_file():
    """A bent meter misleads where the light on set is another; its file takes that back."""
    spec = series(9, levels=12, frames_each=4)
    found = check_meter(*measure_in_memory(spec)).meter
    body = simulate.load_body("halden-h2")
    plan = simulate.standard_series(
        body, 3, labels=(100,), meter=BENT, ev100=11.0, size=(96, 96), pairs=True
    )
    # written down where this meter shows 0.1 less than the light
    shots = tuple(replace(shot, light_ev=0.0) for shot in plan.shots)
    measurement, sheet = measure_in_memory(replace(plan, shots=shots))
    plain = pipeline.fit(measurement, sheet, meter=Meter()).results[0]
    known = pipeline.fit(measurement, sheet, meter=found).results[0]
    (row,) = [row for row in known.budget if row.source == "meter linearity"]
    assert 0.005 < row.contribution_ev < 0.05
    assert not [row for row in plain.budget if row.source == "meter linearity"]
    # at EV 6 the same meter shows 0.087 more than the light; a spot is predicted from both
    shown = f"EV {6.0 + BENT.strays_ev(6.0):.2f}"
    wrong = read_meter_texts(shown, "spot", Meter()).ev100 - plain.offset_ev.value
    right = read_meter_texts(shown, "spot", found)
    off = right.ev100 - known.offset_ev.value - (wrong - BENT.strays_ev(6.0) - 0.1)
    assert abs(off) < 3.0 * np.hypot(row.contribution_ev, right.linearity_u_ev)
    assert [r.source for r in right.rows()][-1] == "linearity of today's meter"
    assert meter_toml(found).count("linearity") == 1


# --- the arithmetic below ---------------------------------------------------------------


def test_equal_readings_leave_the_value_anywhere_in_the_step():
    spreads, found = behind_readings([[10.3] * 4, [7.1] * 4, [5.5] * 4], 0.1)
    assert spreads[0].mean == pytest.approx(10.3, abs=1e-6)
    assert spreads[0].u == pytest.approx(0.1 / np.sqrt(12.0), rel=0.12)
    assert found.high_ev < 0.04


def test_fine_readings_give_the_usual_mean_and_scatter():
    rng = np.random.default_rng(1)
    readings = 9.0 + 0.05 * rng.normal(size=(30, 6))
    spreads, found = behind_readings([list(row) for row in readings], 0.001)
    assert spreads[3].mean == pytest.approx(readings[3].mean(), abs=0.002)
    pooled = np.sqrt(np.mean(readings.var(axis=1, ddof=1)))
    assert found.value_ev == pytest.approx(pooled, rel=0.05)
    assert spreads[3].u == pytest.approx(pooled / np.sqrt(6.0), rel=0.06)
    apart = difference(spreads[0], spreads[1])
    assert apart.mean == pytest.approx(readings[0].mean() - readings[1].mean(), abs=0.002)
    assert apart.u == pytest.approx(np.hypot(spreads[0].u, spreads[1].u), rel=0.02)
    value, u, low, high = interval(spreads[0], 1.0, 0.05)
    assert high - low == pytest.approx(2.0 * 1.96 * u, rel=0.02)
    assert u == pytest.approx(np.hypot(spreads[0].u, 0.05))
    assert value == pytest.approx(spreads[0].mean)


def test_levels_by_hand():
    """Two groups of two frames, own scatter 0.02, at two times whose errors are 0.05 each.

    Each mean has 0.02/sqrt(2); each carries its time's whole error, so their difference has
    sqrt(0.02^2 + 2 0.05^2).
    """
    light = np.array([1.0, 1.1, 2.0, 2.2])
    group = np.array([0, 0, 1, 1])
    found = solve_levels(
        light, np.zeros(4), group, [Shared(index=group, u_ev=0.05)], scatter_ev=0.02, dof=np.inf
    )
    assert found.light_ev == pytest.approx([1.05, 2.1])
    value, u = found.difference(np.array([-1.0, 1.0]))
    assert value == pytest.approx(1.05)
    assert u == pytest.approx(np.sqrt(0.02**2 + 2.0 * 0.05**2), rel=1e-3)
    scatter, dof = repeat_scatter(light, np.zeros(4), group)
    assert dof == 2
    assert scatter == pytest.approx(np.sqrt((0.005 + 0.02) / 2.0))


# --- the command ------------------------------------------------------------------------


def test_the_command_writes_a_file_and_never_over_one(lamp, tmp_path):
    _, folder = lamp
    out, plot = tmp_path / "sprig.toml", tmp_path / "sprig.png"
    words = ["meter", str(folder), "--out", str(out), "--plot", str(plot)]
    done = CliRunner().invoke(greytare, words)
    assert done.exit_code == 0, done.output
    assert "strays by up to" in done.output
    assert plot.read_bytes().startswith(b"\x89PNG")
    before = out.read_text()
    again = CliRunner().invoke(greytare, words)
    assert "exists" in str(again.exception)
    assert out.read_text() == before
    assert set(read_meter(out).linearity) == {"spot"}
    assert "Measured by greytare" in before
