"""An ISO label between measured ones is answered when asked for, with what bodies do there."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from profiler.calibration import pipeline
from profiler.errors import ProfileError
from profiler.onset.profile import Profile
from profiler.show.onset.settings import settings_answer
from profiler.simulate.memory import measure_in_memory

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from bodies_between import KINDS, REFUSED, answered, series, true_offset
from world import shoot as world_shoot
from world.worlds import WORLDS


def named(name):
    return next(kind for kind in (*KINDS, *REFUSED) if kind.name == name)


def shot(kind, seed=1):
    spec = series(kind, seed)
    return Profile(pipeline.fit(*measure_in_memory(spec, 0.6))), spec


@pytest.fixture(scope="module")
def full_stops():
    return shot(named("gain for every label, a third up"))


@pytest.mark.parametrize(
    "name",
    [
        "a third up is paper",
        "a third down by codes",
        "a third down by codes, measured at others",
    ],
)
def test_the_answer_holds_the_truth(name):
    kind = named(name)
    profile, spec = shot(kind)
    found = answered(profile, kind.asked)
    assert found.low <= true_offset(spec, kind.asked) <= found.high
    assert found.high - found.low < 1.2


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("a second gain begins", "a second gain begins between them"),
        ("the step is paper", "the step between them is made on the codes|headroom changes by"),
    ],
)
def test_never_across_a_step_that_is_no_gain(name, why):
    kind = named(name)
    profile, _ = shot(kind)
    with pytest.raises(ProfileError, match=why):
        answered(profile, kind.asked)


def test_a_step_on_the_codes_alone_is_enough_to_refuse(full_stops):
    """The headroom stands still here, so nothing else tells."""
    profile, _ = full_stops
    steps = tuple(
        replace(step, digital="push") if step.iso == 400 else step
        for step in profile.data.iso_steps
    )
    pushed = Profile(replace(profile.data, iso_steps=steps))
    with pytest.raises(ProfileError, match="the step between them is made on the codes"):
        answered(pushed, 250)


def test_only_when_asked_for_and_only_between(full_stops):
    profile, _ = full_stops
    with pytest.raises(ProfileError, match="ISO 250 was not measured"):
        profile.settings("EV 10", iso=250)
    with pytest.raises(ProfileError, match="ISO 800 doesn't lie between two measured labels"):
        profile.settings("EV 10", iso=800, between=True)
    held = profile.settings("EV 10", iso=200)
    assert profile.settings("EV 10", iso=200, between=True) == held


def test_it_is_said_with_its_margin(full_stops):
    profile, _ = full_stops
    found = profile.settings("EV 10", iso=250, aperture="f/8", between=True)
    notes = [note.text for note in settings_answer(found).notes if note.warns]
    assert any("ISO 250 was not measured" in text and "±0.32 EV" in text for text in notes)
    around = [profile.settings("EV 10", iso=iso, aperture="f/8") for iso in (200, 400)]
    widths = [one.dial.offset_ev.high - one.dial.offset_ev.low for one in (*around, found)]
    assert widths[2] > 2.0 * max(widths[:2])
    assert found.setup.above_floor_ev is None
    placed = profile.place(250, key="EV 10", spots=["hair=EV 7"], between=True)
    assert any(guard.name == "between-labels" for guard in placed.guards)


def test_without_pairs_nobody_can_tell_a_second_gain(full_stops):
    kind = named("gain for every label, a third up")
    spec = series(kind, 1)
    single = [shot for i, shot in enumerate(spec.shots) if i % 2 == 0 or shot.dark]
    profile = Profile(pipeline.fit(*measure_in_memory(replace(spec, shots=tuple(single)), 0.6)))
    with pytest.raises(ProfileError, match="without two of each frame"):
        answered(profile, 250)


def test_the_second_world(monkeypatch):
    """Bodies whose labels differ at will are refused; with one gain a label the truth is held."""
    world = replace(
        next(w for w in WORLDS if w.name == "steady light, read before and after"),
        labels=(100, 400, 800),
        repeats=2,
    )
    held = refused = 0
    for seed in range(2):
        rng = np.random.default_rng([seed, 99])
        one = world_shoot._sensor(world, 0, rng)

        def alike(_world, place, _rng, one=one):
            electrons = 3.0 / (1.0, 4.0, 8.0)[place]
            return replace(one, electrons_per_dn=electrons, read_dn=4.0 / electrons)

        with monkeypatch.context() as patched:
            patched.setattr(world_shoot, "_sensor", alike)
            made = world_shoot.shoot(world, seed)
        profile = Profile(pipeline.fit(made.measurement, made.sheet))
        found = answered(profile, 200)
        true = made.headroom_ev[100] - profile.find(100).aim_stops
        held += found.low <= true <= found.high
        other = world_shoot.shoot(world, seed)
        try:
            answered(Profile(pipeline.fit(other.measurement, other.sheet)), 200)
        except ProfileError:
            refused += 1
    assert held == 2
    assert refused >= 1
