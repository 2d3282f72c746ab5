"""Lenses measured by a body: light loss, iris beside its marks, vignetting, refusals."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner

from profiler import simulate
from profiler.calibration import pipeline
from profiler.calibration.instruments.lenses import measure_lenses
from profiler.cli.main import greytare
from profiler.errors import GreytareError, MeasureError, ProfileError
from profiler.files.profile import lenses_json, lenses_path, load_lenses, save_lenses
from profiler.files.sheet import Sheet, parse_sheet
from profiler.results import CameraIdentity
from profiler.show.lenses import lenses_answer
from profiler.simulate.instruments import true_lens_light_ev
from profiler.simulate.memory import measure_in_memory

OWN = "Halden 50mm f/1.4"
BAG = {OWN: 0.0, "Orla 28-70": 0.7, "Orla 85": 0.25}
BLANK = Sheet(name="the sheet", columns=())


def series(seed, losses=BAG, **options):
    options = {"shutter_scatter_ev": 0.004} | options
    return simulate.lens_series(simulate.load_body("halden-h2"), seed, losses, **options)


@pytest.fixture(scope="module")
def bag():
    spec = series(3)
    measurement, sheet = measure_in_memory(spec)
    return (
        spec,
        measurement,
        sheet,
        measure_lenses(measurement, sheet, calibrated=OWN, aperture=5.6),
    )


def test_losses_lie_within_a_fiftieth_of_a_stop_and_within_their_intervals(bag):
    spec, _, _, found = bag
    true = true_lens_light_ev(spec)
    inside = []
    for lens in found.lenses:
        assert lens.loss_ev.value == pytest.approx(-true[lens.model, 5.6], abs=0.02)
        for mark in lens.marks:
            ev = true[lens.model, mark.aperture]
            inside.append(mark.light_ev.low <= ev <= mark.light_ev.high)
            off = ev - true[lens.model, lens.at_aperture]
            assert mark.iris_ev.value == pytest.approx(off, abs=0.025)
    assert len(inside) == 6
    assert sum(inside) >= 5


def test_through_real_files_without_a_reading(tmp_path):
    spec = series(4, size=(240, 160), apertures=("5.6",))
    folder = tmp_path / "bag"
    simulate.write_series(spec, folder)
    darks = [f"IMG_{i + 1:04d}.dng" for i, shot in enumerate(spec.shots) if shot.dark]
    rows = "".join(f"{name},dark,\n" for name in darks)
    sheet = parse_sheet(f"file,reading,mode\n{rows}", "sheet.csv")
    found = measure_lenses(pipeline.measure(folder, sheet), sheet, calibrated=OWN, aperture=5.6)
    true = true_lens_light_ev(spec)
    for lens in found.lenses:
        assert lens.loss_ev.value == pytest.approx(-true[lens.model, 5.6], abs=0.02)


def test_a_light_that_drifts_is_taken_off_where_the_calibrated_lens_stands_at_both_ends():
    spec = series(5, drift_ev=0.12)
    measurement, sheet = measure_in_memory(spec)
    found = measure_lenses(measurement, sheet, calibrated=OWN, aperture=5.6)
    assert found.drift_ev.value == pytest.approx(0.12, abs=0.02)
    true = true_lens_light_ev(spec)
    for lens in found.lenses:
        assert lens.loss_ev.value == pytest.approx(-true[lens.model, 5.6], abs=0.02)
    # without the last frames nothing tells a drift from a lens, and the interval says so
    last = [i for i, shot in enumerate(spec.shots) if not shot.dark][-2:]
    names = {f"IMG_{i + 1:04d}.dng" for i in last}
    cut = replace(measurement, frames=tuple(f for f in measurement.frames if f.file not in names))
    wide = measure_lenses(cut, sheet, calibrated=OWN, aperture=5.6)
    assert wide.lenses[2].loss_ev.u > 3.0 * found.lenses[2].loss_ev.u
    assert [note for note in lenses_answer(wide).notes if note.warns]
    assert not [note for note in lenses_answer(found).notes if note.warns]


def test_a_lens_that_falls_off_over_the_patch(bag):
    """The second lens' patch lies aside: 0.03 of the level more at its right edge."""
    _, measurement, sheet, even = bag
    frames = []
    for frame in measurement.frames:
        channels = frame.channels
        if frame.tags.lens.value == "Orla 85":
            channels = {
                name: replace(c, slope_across_dn=c.slope_across_dn + 0.03 * (c.mean_dn - 512.0))
                for name, c in channels.items()
            }
        frames.append(replace(frame, channels=channels))
    found = measure_lenses(
        replace(measurement, frames=tuple(frames)), sheet, calibrated=OWN, aperture=5.6
    )
    one, before = (each.lenses[2].marks[0] for each in (found, even))
    assert one.across_ev.value - before.across_ev.value == pytest.approx(0.03 / np.log(2), rel=0.02)
    assert one.down_ev.value == pytest.approx(before.down_ev.value)


def test_the_sheet_names_a_lens_that_the_files_do_not(bag):
    _, measurement, sheet, _ = bag
    blind = replace(
        measurement,
        frames=tuple(replace(f, tags=replace(f.tags, lens=None)) for f in measurement.frames),
    )
    with pytest.raises(MeasureError, match="no frame shows the calibrated lens"):
        measure_lenses(blind, sheet, calibrated=OWN, aperture=5.6)
    rows = [f"{f.file},,,{f.tags.lens.value}" for f in measurement.frames[:-2]]
    rows += [f"{f.file},dark,," for f in measurement.frames[-2:]]
    told = parse_sheet("file,reading,mode,lens\n" + "\n".join(rows) + "\n", "sheet.csv")
    found = measure_lenses(blind, told, calibrated=OWN, aperture=5.6)
    assert [lens.model for lens in found.lenses] == list(BAG)


def test_refused():
    spec = series(6, frames_each=1)
    measurement, sheet = measure_in_memory(spec)
    with pytest.raises(MeasureError, match="too few frames repeat each other"):
        measure_lenses(measurement, sheet, calibrated=OWN, aperture=5.6)
    assert measure_lenses(
        measurement, sheet, calibrated=OWN, aperture=5.6, electronic_shutter=True
    ).lenses
    with pytest.raises(MeasureError, match="no frame shows the calibrated lens"):
        measure_lenses(measurement, sheet, calibrated=OWN, aperture=11.0)
    other = CameraIdentity(make="Halden", model="Halden H2", serial="0009999")
    with pytest.raises(MeasureError, match="another body than the profile"):
        measure_lenses(measurement, sheet, calibrated=OWN, aperture=5.6, camera=other)
    alone = replace(measurement, frames=measurement.frames[:1] + measurement.frames[-2:])
    dark = replace(sheet, rows=tuple(row for row in sheet.rows if row.dark))
    with pytest.raises(MeasureError, match="one lens at one mark"):
        measure_lenses(alone, dark, calibrated=OWN, aperture=5.6)


def test_words(bag):
    *_, found = bag
    answer = lenses_answer(found)
    loss = found.lenses[1].loss_ev
    assert f"Orla 28-70 {loss.value:.2f} ± 0.01 stop less light at f/5.6" in answer.headline
    more = replace(found.lenses[1], loss_ev=replace(loss, value=-0.1, low=-0.12, high=-0.08))
    changed = replace(found, lenses=(found.lenses[0], more))
    assert "0.10 ± 0.02 stop more light" in lenses_answer(changed).headline


# --- the file -------------------------------------------------------------------------------


def test_the_file_gives_the_same_lenses_back(bag, tmp_path):
    *_, found = bag
    path = tmp_path / "h.lenses.json"
    save_lenses(found, path)
    assert load_lenses(path) == found
    with pytest.raises(GreytareError, match="exists"):
        save_lenses(found, path)
    assert lenses_path(tmp_path / "h.profile.json") == path
    with pytest.raises(ProfileError, match="no such file of lenses"):
        load_lenses(tmp_path / "none.json")


@pytest.mark.parametrize(
    ("change", "what"),
    [
        (lambda data: data.update(version=2), "version"),
        (lambda data: data["lenses"][0].pop("loss_ev"), r"lenses\[0\].loss_ev: the field is miss"),
        (lambda data: data["lenses"][1].update(colour="red"), "colour: the field isn't known"),
        (lambda data: data["lenses"][1]["marks"][0].update(frames=2.5), "frames"),
        (lambda data: data["lenses"][1]["loss_ev"].update(u=-1.0), "zero or more"),
    ],
)
def test_a_file_that_was_changed_is_refused(bag, tmp_path, change, what):
    data = json.loads(lenses_json(bag[-1]))
    change(data)
    path = tmp_path / "h.lenses.json"
    path.write_text(json.dumps(data))
    with pytest.raises(ProfileError, match=what):
        load_lenses(path)


def test_simulate_takes_lenses(tmp_path):
    words = ["simulate", str(tmp_path / "bag"), "--lens", "Orla 85", "--size", "96x96"]
    done = CliRunner().invoke(greytare, words)
    assert done.exit_code == 2
    assert "NAME=STOPS" in done.output
