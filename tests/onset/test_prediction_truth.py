"""What `place` says is where simulated raw values land, as often as its intervals claim."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
import drawn

RIGS, SCENES = 100, 5


@pytest.fixture(scope="module")
def landings():
    """(prediction, landed) of 500 random scenes: a key and three spots each."""
    found = []
    for seed in range(RIGS):
        rig = drawn.rig(seed, modes=("spot", "incident-flat") if seed % 2 else ("spot",))
        rng = np.random.default_rng([seed, 7002])
        for scene in range(SCENES):
            found += one_scene(rig, rng, 1000 * seed + 10 * scene)
    return found


def one_scene(rig, rng, seed):
    """Random ISO, key mode, light, camera setting and spots; the exposure near what is metered."""
    iso = int(rng.choice(drawn.LABELS))
    mode = str(rng.choice(sorted({result.mode for result in rig.profile.data.results})))
    aperture = str(rng.choice(["4", "5.6", "8", "16"]))
    key_ev = float(rng.uniform(7.0, 12.0))
    wanted = float(aperture) ** 2 / 2.0 ** (key_ev + np.log2(iso / 100.0))
    time = drawn.time_mark_for(wanted * 2.0 ** float(rng.uniform(-0.7, 0.7)))
    # by spot, the grey subject reads what an 18 % card does
    spot_evs = {f"spot {i}": key_ev + float(rng.uniform(-5.0, 4.5)) for i in range(3)}
    placed = rig.profile.place(
        iso,
        key=drawn.reading(key_ev, rng),
        mode=mode,
        spots=[f"{name}={drawn.reading(ev, rng)}" for name, ev in spot_evs.items()],
        setting=f"f/{aperture} {time} s",
    )
    pairs = [(placed.key, drawn.shoot(rig, iso, time, aperture, key_ev, mode, seed))]
    for i, (spot, ev) in enumerate(zip(placed.spots, spot_evs.values(), strict=True), start=1):
        pairs.append((spot, drawn.shoot(rig, iso, time, aperture, ev, "spot", seed + i)))
    return pairs


def holds(spot, landed, channel):
    """Whether a channel's interval holds where it landed; a full channel is at clip or over."""
    distance, found = spot.channels[channel], landed.below_clip_ev[channel]
    return distance.low <= 0.0 if found is None else distance.low <= found <= distance.high


def test_95_percent_intervals_hold(landings):
    for channel in ("R", "G1", "B"):
        share = np.mean([holds(spot, landed, channel) for spot, landed in landings])
        assert 0.93 <= share <= 0.97, channel


@pytest.mark.parametrize("channel", ["R", "G1", "B"])
def test_pulls_are_centred_with_spread_one(landings, channel):
    pulls = np.array(
        [
            (landed.below_clip_ev[channel] - spot.channels[channel].value)
            / spot.channels[channel].u
            for spot, landed in landings
            if landed.below_clip_ev[channel] is not None
        ]
    )
    # half of the variance is common to a calibration's scenes: the mean is good to 0.07
    assert abs(pulls.mean()) < 0.25
    # u too small by a third would give 1.5, too large by a third 0.75
    assert 0.88 < pulls.std() < 1.12


def test_verdicts_are_true(landings):
    words = {"safe": [], "clipped": [], "in doubt": []}
    for spot, landed in landings:
        words[spot.highlight].append(any(landed.clipped(c) for c in spot.channels))
    # a 95 % interval may be wrong on either side once in forty, and only next to clip
    assert np.mean(words["clipped"]) > 0.99
    assert np.mean(words["safe"]) < 0.005
    assert 0.1 < np.mean(words["in doubt"]) < 0.9
    assert min(len(found) for found in words.values()) > 50


def test_named_channels_are_the_ones_that_clip(landings):
    wrong = sum(
        (not landed.clipped(c) if c in spot.clipped else landed.clipped(c))
        for spot, landed in landings
        for c in spot.channels
        if c not in spot.doubtful
    )
    assert wrong < 0.005 * 4 * len(landings)


def test_differences_between_spots_hold(landings):
    """Stops from grey: what is common to a frame cancels, two readings are left."""
    inside = []
    for start in range(0, len(landings), 4):
        _, key_landed = landings[start]
        for spot, landed in landings[start + 1 : start + 4]:
            found, grey = landed.below_clip_ev["G1"], key_landed.below_clip_ev["G1"]
            if found is not None and grey is not None:
                said = spot.above_grey_ev
                # each frame is rendered with its own shutter error, which one photograph shares
                slack = 2.0 * drawn.SCATTER_EV
                inside.append(said.low - slack <= grey - found <= said.high + slack)
    assert np.mean(inside) > 0.93
