"""The sliders of a lesson, in groups."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from profiler.errors import ExposureError


@dataclass(frozen=True, kw_only=True)
class Slider:
    """One thing to change: range, step, start, unit, and what it stands for."""

    name: str
    label: str
    low: float
    high: float
    step: float
    start: float
    unit: str
    what: str


SLIDERS: Final = {
    "Body": (
        Slider(
            name="headroom",
            label="Sensor's headroom",
            low=1.5,
            high=5.0,
            step=0.1,
            start=2.7,
            unit="stops",
            what="from the metered grey to clip, before the gain is changed",
        ),
        Slider(
            name="gain",
            label="ISO gain",
            low=-1.0,
            high=2.0,
            step=0.1,
            start=0.0,
            unit="EV",
            what="code values for one electron; more gain lifts the grey towards clip",
        ),
        Slider(
            name="read_noise",
            label="Read noise",
            low=0.5,
            high=30.0,
            step=0.5,
            start=3.5,
            unit="e-",
            what="what the electronics add in the dark",
        ),
        Slider(
            name="knee",
            label="Straight up to",
            low=40.0,
            high=100.0,
            step=5.0,
            start=100.0,
            unit="% of the range",
            what="beyond it the response bends before it clips",
        ),
    ),
    "Light and lens": (
        Slider(
            name="flare",
            label="Flare",
            low=0.0,
            high=10.0,
            step=0.5,
            start=0.0,
            unit="% of the mean light",
            what="stray light in the lens, in every pixel",
        ),
        Slider(
            name="scatter",
            label="Shutter scatter",
            low=0.0,
            high=0.2,
            step=0.01,
            start=0.02,
            unit="EV rms",
            what="from frame to frame",
        ),
        Slider(
            name="drift",
            label="Light drift",
            low=-0.5,
            high=0.5,
            step=0.05,
            start=0.0,
            unit="EV",
            what="from the reading to the last frame; positive: the light falls",
        ),
    ),
    "People": (
        Slider(
            name="mistyped",
            label="One mistyped reading",
            low=-2.0,
            high=2.0,
            step=0.1,
            start=0.0,
            unit="EV",
            what="written down wrong for one frame",
        ),
        Slider(
            name="meter",
            label="Meter error",
            low=-1.0,
            high=1.0,
            step=0.1,
            start=0.0,
            unit="EV",
            what="all readings too high, as by a forgotten compensation",
        ),
        Slider(
            name="short",
            label="Series ends before clip",
            low=0.0,
            high=1.0,
            step=1.0,
            start=0.0,
            unit="(0 no, 1 yes)",
            what="nobody shot over clip",
        ),
    ),
}


def read_values(params: Mapping[str, str]) -> dict[str, float]:
    """Return slider name -> value, its start where none came; ExposureError beyond its range."""
    values = {}
    for slider in all_sliders():
        typed = params.get(slider.name, "")
        try:
            value = float(typed) if typed else slider.start
        except ValueError:
            value = math.nan
        if not slider.low <= value <= slider.high:
            raise ExposureError(
                f"{typed[:40]!r} isn't a position of this slider",
                slider.name,
                f"Use {slider.low:g} to {slider.high:g} {slider.unit}",
            )
        values[slider.name] = value
    return values


def all_sliders() -> list[Slider]:
    """Return the sliders of all groups."""
    return [slider for group in SLIDERS.values() for slider in group]
