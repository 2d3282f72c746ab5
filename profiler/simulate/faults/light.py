"""Faults of the light or of the card in it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any, Final

from profiler.simulate.faults.fault import Faults, edit_shots, lit_frames, some_frames, with_effects
from profiler.simulate.series import SeriesSpec

LIGHT_FAULTS: Final = Faults()


def _scene(spec: SeriesSpec, **fields: Any) -> SeriesSpec:
    return replace(spec, scene=replace(spec.scene, **fields))


@LIGHT_FAULTS.sized("light-drift", 0.3, "EV", low=-5.0, high=5.0)
def _light_drift(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The light falls steadily after the reading, by this much until the last frame."""
    last = max(1, len(spec.shots) - 1)
    return edit_shots(
        spec,
        lit_frames(spec),
        lambda index, shot: {"light_ev": shot.light_ev - size * index / last},
    )


@LIGHT_FAULTS.sized("lamp-warm-up", 0.3, "EV", high=5.0)
def _lamp_warm_up(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The lamp starts this much too dark, then settles."""
    pace = max(1.0, len(spec.shots) / 6.0)
    return edit_shots(
        spec,
        lit_frames(spec),
        lambda index, shot: {"light_ev": shot.light_ev - size * math.exp(-index / pace)},
    )


@LIGHT_FAULTS.sized("cloud", 0.5, "EV", high=8.0)
def _cloud(spec: SeriesSpec, size: float) -> SeriesSpec:
    """A quarter of the frames lose this much light."""
    chosen = some_frames(spec, max(1, len(lit_frames(spec)) // 4), "cloud")
    return edit_shots(spec, chosen, lambda _, shot: {"light_ev": shot.light_ev - size})


@LIGHT_FAULTS.sized("mains-flicker", 0.3, "depth", high=1.0)
def _mains_flicker(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The light pulses at 100 Hz under a rolling shutter."""
    return with_effects(spec, flicker_depth=size, flicker_hz=100.0)


@LIGHT_FAULTS.sized("led-pulse", 0.8, "depth", high=1.0)
def _led_pulse(spec: SeriesSpec, size: float) -> SeriesSpec:
    """A dimmed LED pulses at 400 Hz under a rolling shutter."""
    return with_effects(spec, flicker_depth=size, flicker_hz=400.0)


@LIGHT_FAULTS.sized("pair-flicker", 0.003, "rms part of the light", high=0.3)
def _pair_flicker(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The light differs a little from frame to frame."""
    return with_effects(spec, light_scatter=size)


@LIGHT_FAULTS.sized("glare", 0.2, "part of the card's light", high=5.0)
def _glare(spec: SeriesSpec, size: float) -> SeriesSpec:
    """A bright spot shines on the card."""
    return _scene(spec, glare=size)


@LIGHT_FAULTS.sized("card-gradient", 0.3, "EV over the frame", low=-4.0, high=4.0)
def _card_gradient(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The card is lit from one side."""
    return _scene(spec, gradient_ev=size)


@LIGHT_FAULTS.sized("vignetting", 1.0, "EV in the corner", high=5.0)
def _vignetting(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The lens darkens the corners."""
    return _scene(spec, vignetting_ev=size)


@LIGHT_FAULTS.sized("colour-cast", 1.5, "EV of blue lost", high=5.0)
def _colour_cast(spec: SeriesSpec, size: float) -> SeriesSpec:
    """Tungsten light: blue low, red a third as much higher."""
    return _scene(spec, light="tungsten", blue_ev=-size, red_ev=size / 3.0)


@LIGHT_FAULTS.sized("card-small", 0.2, "part of the frame's width", low=0.01, high=1.0)
def _card_small(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The card fills only a small part of the frame."""
    return _scene(spec, card_width=size, card_height=size)


@LIGHT_FAULTS.sized("card-off-centre", 0.25, "part of the frame's width", high=0.5)
def _card_off_centre(spec: SeriesSpec, size: float) -> SeriesSpec:
    """A card of 0.4 of the frame lies off its centre."""
    return _scene(spec, card_x=0.5 + size, card_y=0.5 - size, card_width=0.4, card_height=0.4)


@LIGHT_FAULTS.switch("card-missed")
def _card_missed(spec: SeriesSpec) -> SeriesSpec:
    """The card lies in a corner, the centre shows its surroundings."""
    return _scene(spec, card_x=0.12, card_y=0.14, card_width=0.24, card_height=0.28)


@LIGHT_FAULTS.sized("bright-surround", 2.0, "times the card's light", high=50.0)
def _bright_surround(spec: SeriesSpec, size: float) -> SeriesSpec:
    """What surrounds the card is brighter than the card."""
    return _scene(spec, surround=size)


@LIGHT_FAULTS.sized("flare", 0.03, "part of the mean light", high=1.0)
def _flare(spec: SeriesSpec, size: float) -> SeriesSpec:
    """Stray light in the lens veils the frame."""
    return _scene(spec, veil=size)


@LIGHT_FAULTS.sized("card-reflectance", 0.08, "EV", low=-2.0, high=2.0)
def _card_reflectance(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The card reflects more than it is said to (only an incident reading is fooled)."""
    if any(mode.endswith("spot") for mode in spec.modes):
        return spec
    return edit_shots(spec, lit_frames(spec), lambda _, shot: {"light_ev": shot.light_ev + size})
