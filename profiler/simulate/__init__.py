"""A simulated camera with handheld meter that writes real raw files with known truth."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from profiler.simulate.faults import FAULTS, Fault, parse_fault
    from profiler.simulate.pixels import render, render_frame
    from profiler.simulate.scene import HandMeter, Scene
    from profiler.simulate.sensor import Body, IsoLabel, load_body, shipped_bodies
    from profiler.simulate.series import SeriesSpec, Shot, standard_series
    from profiler.simulate.write import SeriesFiles, write_series

_HOME = {
    "FAULTS": "faults",
    "Fault": "faults",
    "parse_fault": "faults",
    "render": "pixels",
    "render_frame": "pixels",
    "lens_series": "instruments",
    "meter_series": "instruments",
    "HandMeter": "scene",
    "Scene": "scene",
    "Body": "sensor",
    "IsoLabel": "sensor",
    "load_body": "sensor",
    "shipped_bodies": "sensor",
    "SeriesSpec": "series",
    "Shot": "series",
    "standard_series": "series",
    "SeriesFiles": "write",
    "write_series": "write",
}

__all__ = [
    "FAULTS",
    "Body",
    "Fault",
    "HandMeter",
    "IsoLabel",
    "Scene",
    "SeriesFiles",
    "SeriesSpec",
    "Shot",
    "lens_series",
    "load_body",
    "meter_series",
    "parse_fault",
    "render",
    "render_frame",
    "shipped_bodies",
    "standard_series",
    "write_series",
]


def __getattr__(name: str) -> Any:
    """Return a public name, loading its module only now."""
    if name in _HOME:
        return getattr(importlib.import_module(f"{__name__}.{_HOME[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
