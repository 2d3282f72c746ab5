"""What raw development is told to add puts a metered grey on the aim; the noise is the sensor's."""

from __future__ import annotations

import csv
import io
import json
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import rawpy
from click.testing import CliRunner

from profiler import simulate, standards
from profiler.calibration import pipeline
from profiler.cli.calibrate.show import show
from profiler.files.sheet import read_sheet
from profiler.frames.cache import MeasureCache
from profiler.onset.development import development
from profiler.show.development import development_answer, development_csv

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from world.shoot import _sensor, shoot
from world.worlds import WORLDS

KEPT = str(Path(__file__).resolve().parents[2] / "fixtures" / "profile-v2.profile.json")


@pytest.mark.parametrize("seed", [1])
def test_developed_files_have_their_grey_on_the_aim(tmp_path, seed):
    """Real DNG files by LibRaw: linear values from black, times 2^correction, per metered frame."""
    body = simulate.load_body("halden-h2")
    spec = simulate.standard_series(body, seed, labels=(100, 400), size=(160, 120), pairs=True)
    simulate.write_series(spec, tmp_path / "s")
    cache = MeasureCache(tmp_path / "cache")
    sheet = read_sheet(tmp_path / "s" / "sheet.csv")
    profile = pipeline.fit(pipeline.measure(tmp_path / "s", sheet, cache=cache), sheet)
    cache.close()
    truth = json.loads((tmp_path / "s" / "truth.json").read_text())
    first = {row["iso"]: row["first_to_clip"] for row in truth["results"]}
    for one in development(profile):
        frame = next(
            f for f in truth["frames"] if f["iso"] == one.iso and -2.0 < f["placement_ev"] < 1.0
        )
        with rawpy.imread(str(tmp_path / "s" / frame["file"])) as raw:
            values = raw.raw_image_visible.astype(float)[50:70, 70:90]
        assert first[one.iso] in ("G", "G1", "G2")
        label = body.label(one.iso)
        green = values[0::2, 1::2].mean() - label.black_dn["G1"]
        of_clip = green / (label.clip_dn["G1"] - label.black_dn["G1"])
        as_metered = of_clip * 2.0 ** -frame["placement_ev"]
        developed = as_metered * 2.0**one.correction_ev.value
        half = 0.5 * (one.correction_ev.high - one.correction_ev.low)
        assert abs(np.log2(developed) + standards.AIM_ISO12232_STOPS) < half
        assert one.aimed_of_clip == pytest.approx(10.0 / 78.0)


def test_the_noise_pairs_are_the_sensors_in_the_second_world():
    world = next(w for w in WORLDS if w.name == "error per shutter time, two of each")
    scales, offsets = [], []
    for seed in range(3):
        series = shoot(world, seed)
        rng = np.random.default_rng([seed, *world.name.encode()])
        sensors = {iso: _sensor(world, place, rng) for place, iso in enumerate(world.labels)}
        for one in development(pipeline.fit(series.measurement, series.sheet)):
            sensor = sensors[one.iso]
            for k, plane in ((0, "R"), (3, "B")):
                span = float(sensor.clip_dn[k] - sensor.black_dn[k])
                pair = one.noise_profile[plane]
                scales.append(pair.scale * span * sensor.electrons_per_dn)
                offsets.append(pair.offset * (span / sensor.read_dn) ** 2)
    assert np.mean(scales) == pytest.approx(1.0, abs=0.03)
    assert np.median(offsets) == pytest.approx(1.0, abs=0.15)


def test_signs_in_words():
    """Swapping brighter and darker, or the sign, must not pass."""
    found = development(profile())
    assert found[0].correction_ev.value < 0.0
    answer = development_answer(found)
    assert "ISO 100 0.3 ± 0.2 stop darker" in answer.headline
    up = replace(found[0].correction_ev, value=0.5, low=0.4, high=0.6)
    brighter = development_answer([replace(found[0], correction_ev=up)])
    assert "ISO 100 0.5 ± 0.1 stop brighter" in brighter.headline
    assert "positive is brighter" in " ".join(answer.closing)


def profile():
    from profiler.files.profile import load_profile

    return load_profile(Path(KEPT))


def test_a_bound_is_no_correction():
    data = profile()
    bound = replace(data.results[0], offset_ev=replace(data.results[0].offset_ev, lower_bound=True))
    found = development(replace(data, results=(bound,)))
    assert found[0].correction_ev is None
    answer = development_answer(found)
    assert "No correction is known" in answer.headline
    assert answer.tables[0].rows[0][2] == "not known"
    assert next(csv.DictReader(io.StringIO(development_csv(found))))["correction_ev"] == ""


def test_text_csv_and_json_say_the_same():
    def run(*more):
        done = CliRunner().invoke(show, [KEPT, "--steps", *more], catch_exceptions=False)
        assert done.exit_code == 0
        return done.stdout

    rows = list(csv.DictReader(io.StringIO(run("csv"))))
    ones = json.loads(run("json"))
    assert run("--json") == run("json")
    assert len(rows) == len(ones) == 3
    for row, one in zip(rows, ones, strict=True):
        assert float(row["correction_ev"]) == pytest.approx(one["correction_ev"]["value"], abs=1e-4)
        scale = one["noise_profile"]["G"]["scale"]
        assert float(row["noise_scale_G"]) == pytest.approx(scale, rel=1e-4)
        assert f"{one['iso']}  spot, daylight" in run()
