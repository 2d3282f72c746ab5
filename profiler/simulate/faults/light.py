"""Faults of the light or of the card in it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any, Final

from profiler.simulate.faults.fault import (
    Fault,
    edit_shots,
    lit_frames,
    some_frames,
    switch,
    with_effects,
)
from profiler.simulate.series import SeriesSpec


def _scene(spec: SeriesSpec, **fields: Any) -> SeriesSpec:
    return replace(spec, scene=replace(spec.scene, **fields))


def _drift(spec: SeriesSpec, size: float) -> SeriesSpec:
    last = max(1, len(spec.shots) - 1)
    return edit_shots(
        spec,
        lit_frames(spec),
        lambda index, shot: {"light_ev": shot.light_ev - size * index / last},
    )


def _warm_up(spec: SeriesSpec, size: float) -> SeriesSpec:
    pace = max(1.0, len(spec.shots) / 6.0)
    return edit_shots(
        spec,
        lit_frames(spec),
        lambda index, shot: {"light_ev": shot.light_ev - size * math.exp(-index / pace)},
    )


def _cloud(spec: SeriesSpec, size: float) -> SeriesSpec:
    chosen = some_frames(spec, max(1, len(lit_frames(spec)) // 4), "cloud")
    return edit_shots(spec, chosen, lambda _, shot: {"light_ev": shot.light_ev - size})


def _card_reflectance(spec: SeriesSpec, size: float) -> SeriesSpec:
    if any(mode.endswith("spot") for mode in spec.modes):
        return spec
    return edit_shots(spec, lit_frames(spec), lambda _, shot: {"light_ev": shot.light_ev + size})


LIGHT_FAULTS: Final = (
    Fault(
        name="light-drift",
        size=0.3,
        unit="EV",
        what="the light falls steadily after the reading, by this much until the last frame",
        change=_drift,
        low=-5.0,
        high=5.0,
    ),
    Fault(
        name="lamp-warm-up",
        size=0.3,
        unit="EV",
        what="the lamp starts this much too dark, then settles",
        change=_warm_up,
        high=5.0,
    ),
    Fault(
        name="cloud",
        size=0.5,
        unit="EV",
        what="a quarter of the frames lose this much light",
        change=_cloud,
        high=8.0,
    ),
    Fault(
        name="mains-flicker",
        size=0.3,
        unit="depth",
        what="the light pulses at 100 Hz under a rolling shutter",
        change=lambda spec, size: with_effects(spec, flicker_depth=size, flicker_hz=100.0),
        high=1.0,
    ),
    Fault(
        name="led-pulse",
        size=0.8,
        unit="depth",
        what="a dimmed LED pulses at 400 Hz under a rolling shutter",
        change=lambda spec, size: with_effects(spec, flicker_depth=size, flicker_hz=400.0),
        high=1.0,
    ),
    Fault(
        name="pair-flicker",
        size=0.003,
        unit="rms part of the light",
        what="the light differs a little from frame to frame",
        change=lambda spec, size: with_effects(spec, light_scatter=size),
        high=0.3,
    ),
    Fault(
        name="glare",
        size=0.2,
        unit="part of the card's light",
        what="a bright spot shines on the card",
        change=lambda spec, size: _scene(spec, glare=size),
        high=5.0,
    ),
    Fault(
        name="card-gradient",
        size=0.3,
        unit="EV over the frame",
        what="the card is lit from one side",
        change=lambda spec, size: _scene(spec, gradient_ev=size),
        low=-4.0,
        high=4.0,
    ),
    Fault(
        name="vignetting",
        size=1.0,
        unit="EV in the corner",
        what="the lens darkens the corners",
        change=lambda spec, size: _scene(spec, vignetting_ev=size),
        high=5.0,
    ),
    Fault(
        name="colour-cast",
        size=1.5,
        unit="EV of blue lost",
        what="tungsten light: blue low, red a third as much higher",
        change=lambda spec, size: _scene(spec, light="tungsten", blue_ev=-size, red_ev=size / 3.0),
        high=5.0,
    ),
    Fault(
        name="card-small",
        size=0.2,
        unit="part of the frame's width",
        what="the card fills only a small part of the frame",
        change=lambda spec, size: _scene(spec, card_width=size, card_height=size),
        low=0.01,
        high=1.0,
    ),
    Fault(
        name="card-off-centre",
        size=0.25,
        unit="part of the frame's width",
        what="a card of 0.4 of the frame lies off its centre",
        change=lambda spec, size: _scene(
            spec, card_x=0.5 + size, card_y=0.5 - size, card_width=0.4, card_height=0.4
        ),
        high=0.5,
    ),
    switch(
        "card-missed",
        "the card lies in a corner, the centre shows its surroundings",
        lambda spec: _scene(spec, card_x=0.12, card_y=0.14, card_width=0.24, card_height=0.28),
    ),
    Fault(
        name="bright-surround",
        size=2.0,
        unit="times the card's light",
        what="what surrounds the card is brighter than the card",
        change=lambda spec, size: _scene(spec, surround=size),
        high=50.0,
    ),
    Fault(
        name="flare",
        size=0.03,
        unit="part of the mean light",
        what="stray light in the lens veils the frame",
        change=lambda spec, size: _scene(spec, veil=size),
        high=1.0,
    ),
    Fault(
        name="card-reflectance",
        size=0.08,
        unit="EV",
        what="the card reflects more than it is said to (only an incident reading is fooled)",
        change=_card_reflectance,
        low=-2.0,
        high=2.0,
    ),
)
