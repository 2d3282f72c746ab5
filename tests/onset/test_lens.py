"""Answers through another lens than the calibrated one."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from click.testing import CliRunner

from profiler import simulate
from profiler.calibration import pipeline
from profiler.calibration.instruments.lenses import measure_lenses
from profiler.cli.main import greytare
from profiler.errors import ExposureError, ProfileError
from profiler.files.profile import lenses_path, save_lenses
from profiler.onset import margins
from profiler.onset.lens import (
    check_lenses,
    find_lens,
    mount,
    profile_aperture,
    profile_through,
    through_lens,
)
from profiler.onset.profile import Profile
from profiler.results import Source
from profiler.show.onset.settings import settings_answer
from profiler.simulate.instruments import true_lens_light_ev
from profiler.simulate.memory import measure_in_memory

BAG = {"Halden 50mm f/1.4": 0.0, "Orla 28-70": 0.7, "Orla 85": 0.25}


@pytest.fixture(scope="module")
def kit():
    """A profile, its lenses, and what they truly give."""
    body = simulate.load_body("halden-h2")
    plan = simulate.standard_series(
        body, 3, labels=(400,), mode=("spot",), pairs=True, darks=2, size=(96, 96)
    )
    flash = simulate.standard_series(body, 4, labels=(400,), mode="flash-flat", size=(96, 96))
    flash = replace(flash, shots=tuple(replace(s, aperture="5.6") for s in flash.shots))
    profile = pipeline.fit(*measure_in_memory(plan), light="daylight")
    lit = pipeline.fit(*measure_in_memory(flash), light="flash")
    profile = replace(profile, results=profile.results + lit.results)
    spec = simulate.lens_series(body, 8, BAG, shutter_scatter_ev=0.004, iris_ev=0.08)
    measurement, sheet = measure_in_memory(spec)
    lenses = measure_lenses(measurement, sheet, calibrated="Halden 50mm f/1.4", aperture=5.6)
    return Profile(profile), lenses, true_lens_light_ev(spec)


def test_a_slower_lens_gets_as_much_more_light_as_it_loses(kit):
    profile, lenses, true = kit
    orla = mount(profile.data, lenses, "28-70")
    for mark in ("f/5.6", "f/8"):
        plain = profile.settings("EV 12.3", iso=400, mode="spot", aperture=mark)
        seen = profile.settings("EV 12.3", iso=400, mode="spot", aperture=mark, lens=orla)
        light = true["Orla 28-70", float(mark[2:])]
        assert seen.dial.offset_ev.value - plain.dial.offset_ev.value == pytest.approx(
            -light, abs=0.02
        )
        # the grey stays on the aim: the time is as much longer, within the marks
        times = [s.setup.setting.shutter.seconds("exact", "third") for s in (seen, plain)]
        rests = [s.setup.left_ev for s in (seen, plain)]
        moved = math.log2(times[0] / times[1]) + rests[0] - rests[1]
        assert moved == pytest.approx(-light, abs=0.02)
        assert seen.lens.aperture == float(mark[2:])


def test_a_measured_mark_leaves_both_irises_out_another_counts_them(kit):
    profile, lenses, _ = kit
    orla = mount(profile.data, lenses, "Orla 85")
    known, other = (
        profile.settings("EV 12", iso=400, mode="spot", aperture=mark, lens=orla)
        for mark in ("f/8", "f/11")
    )
    assert (known.setup.iris, other.setup.iris) == (False, True)
    assert (known.lens.aperture, other.lens.aperture) == (8.0, None)
    assert known.setup.below_clip_ev.u < other.setup.below_clip_ev.u
    notes = " ".join(guard.text for guard in known.guards)
    assert "an aperture that this lens was measured at" in notes
    assert "this lens" not in " ".join(
        g.text for g in profile.settings("EV 12", iso=400, mode="spot", aperture="f/5.6").guards
    )
    row = next(
        row
        for row in through_lens(profile.find(400, "spot"), orla, 8.0).budget
        if row.source == Source.LENS
    )
    assert row.u_ev == pytest.approx(known.lens.light_ev.u)


def test_headroom_rises_and_footroom_falls(kit):
    profile, lenses, _ = kit
    orla = mount(profile.data, lenses, "28-70")
    plain = profile.find(400, "spot")
    seen = through_lens(plain, orla, 5.6)
    loss = orla.lens.loss_ev.value
    for name, sign in (("clip_headroom_ev", 1), ("linear_headroom_ev", 1), ("offset_ev", 1)):
        one, other = getattr(seen, name), getattr(plain, name)
        assert one.value - other.value == pytest.approx(sign * loss)
    assert seen.footroom_ev.snr10.value - plain.footroom_ev.snr10.value == pytest.approx(-loss)
    assert seen.exposure_index.value == pytest.approx(plain.exposure_index.value / 2.0**loss)
    assert seen.channels["R"].metered_dn == pytest.approx(
        plain.channels["R"].metered_dn / 2.0**loss
    )
    assert margins.clip_headroom(seen, iris=False).u < margins.clip_headroom(seen, iris=True).u


def test_place_moves_every_spot_alike(kit):
    profile, lenses, _ = kit
    orla = mount(profile.data, lenses, "28-70")
    asked = {"key": "EV 12", "spots": ["shirt=EV 14", "hair=EV 8"], "mode": "spot"}
    plain = profile.place(400, setting="f/8 1/250", **asked)
    seen = profile.place(400, setting="f/8 1/250", lens=orla, **asked)
    light = seen.lens.light_ev.value
    for one, other in zip(seen.spots, plain.spots, strict=True):
        assert one.below_clip_ev.value - other.below_clip_ev.value == pytest.approx(-light)
        assert one.above_grey_ev.value == pytest.approx(other.above_grey_ev.value)
    on_aim = profile.place(400, setting="aim", lens=orla, **asked)
    assert on_aim.key.below_clip_ev.value == pytest.approx(on_aim.aim_stops, abs=1e-6)


def test_mix_opens_the_iris_for_the_loss(kit):
    profile, lenses, _ = kit
    orla = mount(profile.data, lenses, "28-70")
    _, plain = profile.mix(iso=400, flash="f/11 ISO 400")
    _, seen = profile.mix(iso=400, flash="f/11 ISO 400", lens=orla)
    light = seen.lens.light_ev.value
    assert 2.0 * math.log2(seen.f_number / plain.f_number) == pytest.approx(light, abs=1e-6)
    assert seen.left_ev == pytest.approx(2.0 * math.log2(seen.mark.exact / seen.f_number))


def test_a_carried_profile_answers_as_the_lens_does(kit):
    profile, lenses, _ = kit
    orla = mount(profile.data, lenses, "28-70")
    taken = Profile(profile_through(profile.data, orla))
    asked = {"iso": 400, "mode": "spot", "aperture": "f/5.6"}
    one, other = taken.settings("EV 12", **asked), profile.settings("EV 12", lens=orla, **asked)
    assert one.setup == other.setup
    assert one.dial == other.dial
    assert taken.data.lens.model == "Orla 28-70"
    assert len(taken.data.results) == len(profile.data.results)
    with pytest.raises(ProfileError, match="none of its results holds f/11"):
        profile_through(profile.data, replace(orla, calibrated_aperture=11.0))


def test_words_name_the_lens_and_the_way(kit):
    profile, lenses, _ = kit
    orla = mount(profile.data, lenses, "28-70")
    found = profile.settings("EV 12", iso=400, mode="spot", aperture="f/8", lens=orla)
    (text,) = [row.text for row in settings_answer(found).rows if row.name == "lens"]
    assert text.startswith("Orla 28-70: 0.")
    assert "less light than the calibrated lens (measured at f/8)" in text
    bright = replace(found.lens, light_ev=lenses.lenses[1].loss_ev, aperture=None)
    (text,) = [
        row.text for row in settings_answer(replace(found, lens=bright)).rows if row.name == "lens"
    ]
    assert "more light than the calibrated lens (its light loss" in text


def test_refused(kit):
    profile, lenses, _ = kit
    with pytest.raises(ProfileError, match="no lens 'Kett' was measured"):
        mount(profile.data, lenses, "Kett")
    with pytest.raises(ProfileError, match="2 lenses of that name"):
        find_lens(lenses, "orla")
    other = replace(profile.data, camera=replace(profile.data.camera, serial="77"))
    with pytest.raises(ProfileError, match="against another body"):
        check_lenses(other, lenses)
    orla = mount(profile.data, lenses, "28-70")
    with pytest.raises(ExposureError, match="T-stop holds the lens's loss"):
        profile.settings("EV 12", iso=400, mode="spot", aperture="T8", lens=orla)
    with pytest.raises(ProfileError, match="f/2 was not measured"):
        profile.settings("EV 12", iso=400, mode="spot", aperture="f/2", lens=orla)
    elsewhere = replace(orla, calibrated_aperture=11.0)
    with pytest.raises(ProfileError, match="measured against f/11"):
        profile.settings("EV 12", iso=400, mode="spot", aperture="f/8", lens=elsewhere)
    result = profile.find(400, "spot")
    by_t = replace(result, measured_by_t_stop=True)
    with pytest.raises(ProfileError, match="by T-stops"):
        through_lens(by_t, orla, None)
    assert profile_aperture(replace(profile.data, results=(result,)), None) == 5.6
    with pytest.raises(ProfileError, match="wasn't made at f/11"):
        profile_aperture(profile.data, "f/11")


def test_the_commands_take_a_lens(kit, tmp_path):
    profile, lenses, _ = kit
    path = tmp_path / "h.profile.json"
    profile.save(path)

    def run(*words):
        return CliRunner().invoke(greytare, list(words))

    ask = ["settings", str(path), "EV 12", "--iso", "400", "--mode", "spot", "--lens", "Orla 85"]
    assert "no such file of lenses" in str(run(*ask).exception)
    save_lenses(lenses, lenses_path(path))
    assert "Orla 85: " in run(*ask).output
    placing = ["place", str(path), "--iso", "400", "--mode", "spot", "--key", "EV 12"]
    assert "Orla 28-70: " in run(*placing, "--lens", "28-70").output
    mixing = ["mix", "--flash", "f/11 ISO 400", "--iso", "400"]
    mixed = run(*mixing, "--profile", str(path), "--lens", "28-70")
    assert "Orla 28-70: " in mixed.output
    assert run(*mixing, "--lens", "28-70").exit_code == 2
