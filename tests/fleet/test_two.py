"""Two calibrations of one body: what moved alike, what by itself, and what cancels."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path

import fleetlab
import numpy as np
import pytest
from click.testing import CliRunner

from profiler.calibration import pipeline
from profiler.cli.calibrate.compare import compare
from profiler.errors import ProfileError
from profiler.files.profile import save_profile
from profiler.fleet import two
from profiler.fleet.two import compare_two
from profiler.records import Meter
from profiler.show.fleet.two import two_answer, two_figure

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from world import shoot as world_shoot
from world.worlds import WORLDS

METER = Meter(make="Sprig", model="Lm-3", serial="000731")
THREE = next(w for w in WORLDS if w.name == "normal shutter")


def two_series(tmp_path, monkeypatch, seed, *, moved=0.0, label=400, meters=(METER, METER)):
    """The second world's body twice, one label moved in the second; truth per label."""
    rng = np.random.default_rng([seed, 4711])
    sensors = [world_shoot._sensor(THREE, place, rng) for place in range(len(THREE.labels))]
    paths, truths = [], []
    for k, meter in enumerate(meters):
        place = THREE.labels.index(label)
        if k:
            more = sensors[place].metered_dn * 2.0**-moved
            sensors[place] = replace(sensors[place], metered_dn=more)
        monkeypatch.setattr(world_shoot, "_sensor", lambda _w, place, _rng: sensors[place])
        series = world_shoot.shoot(THREE, 1000 * seed + k)
        named = replace(
            series.measurement,
            frames=tuple(
                replace(f, sha256=f"{seed}/{k}/{f.file}") for f in series.measurement.frames
            ),
        )
        path = tmp_path / f"{seed}-{k}.profile.json"
        save_profile(pipeline.fit(named, series.sheet, light="daylight", meter=meter), path)
        paths.append(path)
        truths.append(series.headroom_ev)
    return paths, {iso: truths[1][iso] - truths[0][iso] for iso in THREE.labels}


def held(estimate, true):
    return estimate.low <= true <= estimate.high


def test_changes_are_held_in_the_second_world(tmp_path, monkeypatch):
    """6 pairs: a label that moved by 0.25 EV is named, the others aren't, intervals hold."""
    named, false, beyond, whole = 0, 0, [], []
    other = replace(METER, serial="99")
    for seed in range(6):
        moved = 0.25 if seed % 2 else 0.0
        paths, truth = two_series(tmp_path, monkeypatch, seed, moved=moved, meters=(METER, other))
        found = compare_two(*paths)
        alone = {one.whole.a.iso for one in found.changes if one.by_itself}
        named += moved > 0.0 and alone == {400}
        false += bool(alone - {400}) or (moved == 0.0 and bool(alone))
        for one in found.changes:
            iso = one.whole.a.iso
            steady = np.mean([truth[i] for i in THREE.labels if i != 400])
            if not (moved and alone != {400}):
                beyond.append(held(one.beyond_ev, truth[iso] - steady))
        whole.append(held(found.alike_ev, steady))
    assert named >= 2
    assert false <= 1
    assert np.mean(beyond) >= 0.85
    assert sum(whole) >= 4  # of 6 that hold 95 % of the time, fewer hold once in 450 tries


def test_one_meter_cancels_in_part(tmp_path, monkeypatch):
    paths, _ = two_series(tmp_path, monkeypatch, 3)
    same = compare_two(*paths)
    assert same.changes[0].whole.same_meter
    assert same.changes[0].whole.common_ev["meter repeatability"] == pytest.approx(
        0.1 / 3**0.5 / 2**0.5, rel=0.05
    )
    one = same.changes[0]
    wide = (one.whole.high_ev - one.whole.low_ev, one.beyond_ev.high - one.beyond_ev.low)
    assert wide[1] < 0.8 * wide[0]


def test_words_for_more_and_less(tmp_path, monkeypatch):
    paths, _ = two_series(tmp_path, monkeypatch, 1, moved=0.5)
    found = compare_two(*paths)
    said = two_answer(found)
    assert said.headline.startswith("ISO 400 changed by itself; the other labels moved by")
    assert "stop more than the other labels moved" in said.lead[0]
    assert said.tables[0].caption == (
        "Clip headroom, which moves as the offset does; second less first: more means that the "
        "second asks for more exposure"
    )
    assert two_figure(found).axes[0].get_xlabel() == (
        "second less first, EV: right of 0 the second asks for more exposure"
    )
    moved = next(one for one in found.changes if one.whole.a.iso == 400)
    # 0.5 EV less level at the meter's own exposure: half a stop more headroom, half a stop to give
    assert moved.whole.value_ev == pytest.approx(0.5, abs=0.25)
    back = two_answer(compare_two(*reversed(paths)))
    assert "stop less than the other labels moved" in back.lead[0]


def test_what_differs_between_two_calibrations_is_named_and_nothing_else():
    one = fleetlab.template()
    assert two._differs(one, one) == {}
    other = replace(one, meter=replace(one.meter, serial="99", c_flat_lx=340.0))
    meter = f"{one.meter.make} {one.meter.model}"
    assert two._differs(one, other) == {
        "meter": (f"{meter} {one.meter.serial}", f"{meter} 99"),
        "meter constants": (
            "K 12.5, C 250 flat, 340 dome",
            "K 12.5, C 340 flat, 340 dome",
        ),
    }


def test_two_labels_cant_tell_which_one_moved(tmp_path, monkeypatch):
    two = replace(THREE, labels=(100, 400))
    monkeypatch.setattr(sys.modules[__name__], "THREE", two)
    paths, _ = two_series(tmp_path, monkeypatch, 2, moved=0.5)
    found = compare_two(*paths)
    assert found.apart
    assert "two labels can't tell" in two_answer(found).headline


def test_refusals(tmp_path, monkeypatch):
    paths, _ = two_series(tmp_path, monkeypatch, 1)
    with pytest.raises(ProfileError, match="rest on the same frames"):
        compare_two(paths[0], paths[0])
    data = json.loads(paths[1].read_text())
    bound = next(result for result in data["results"] if result["iso"] == 400)
    for name in ("offset_ev", "exposure_index", "clip_headroom_ev"):
        bound[name]["lower_bound"] = True
    unseen = tmp_path / "unseen.profile.json"
    unseen.write_text(json.dumps(data))
    for pair in ((paths[0], unseen), (unseen, paths[0])):
        assert 400 not in [one.whole.a.iso for one in compare_two(*pair).changes]
    for result in data["results"]:
        result["light"] = "led"
    other = tmp_path / "led.profile.json"
    other.write_text(json.dumps(data))
    with pytest.raises(ProfileError, match="no ISO label in one mode and light in common"):
        compare_two(paths[0], other)


def test_the_command_draws_and_prints(tmp_path, monkeypatch):
    paths, _ = two_series(tmp_path, monkeypatch, 1, moved=0.5)
    picture = tmp_path / "moved.png"
    words = [str(path) for path in paths]
    done = CliRunner().invoke(compare, [*words, "--plot", str(picture)], catch_exceptions=False)
    assert done.exit_code == 0
    assert "moved by itself" in done.stdout
    assert picture.read_bytes().startswith(b"\x89PNG")
    data = json.loads(CliRunner().invoke(compare, [*words, "--json"]).stdout)
    assert [one["by_itself"] for one in data["changes"]] == [False, False, True]
