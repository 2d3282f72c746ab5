"""Faults of shutter, iris or lens."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from profiler.simulate.faults.fault import Fault, edit_shots, lit_frames, switch
from profiler.simulate.marks import (
    APERTURE_MARKS,
    nearest_aperture_mark,
    nearest_time_mark,
    true_aperture,
    true_time_s,
)
from profiler.simulate.series import SeriesSpec, Shot

_LATE_AT_S: Final = 1.0 / 1000.0


def _shutter_late(spec: SeriesSpec, size: float) -> SeriesSpec:
    late_s = (2.0**size - 1.0) * _LATE_AT_S

    def later(_: int, shot: Shot) -> dict[str, float]:
        time_s = true_time_s(shot.time, spec.time_rule)
        return {"shutter_ev": shot.shutter_ev + math.log2(1.0 + late_s / time_s)}

    return edit_shots(spec, lit_frames(spec), later)


def _aperture_mark(spec: SeriesSpec, size: float) -> SeriesSpec:
    return edit_shots(spec, lit_frames(spec), lambda _, shot: {"iris_ev": shot.iris_ev + size})


def _aperture_bracket(spec: SeriesSpec, size: float) -> SeriesSpec:
    """Bracket each label by the iris at one time, chosen so that its widest mark is used."""
    widest = true_aperture(APERTURE_MARKS[0], "exact")
    for iso in spec.isos:
        frames = lit_frames(spec, iso)
        light = {
            i: true_time_s(spec.shots[i].time, "exact")
            / true_aperture(spec.shots[i].aperture, "exact") ** 2
            for i in frames
        }
        time = nearest_time_mark(max(light.values()) * widest**2)
        time_s = true_time_s(time, "exact")

        def by_iris(
            index: int,
            _: Shot,
            time: str = time,
            time_s: float = time_s,
            light: dict[int, float] = light,
        ) -> dict[str, str]:
            return {
                "time": time,
                "aperture": nearest_aperture_mark(math.sqrt(time_s / light[index])),
            }

        spec = edit_shots(spec, frames, by_iris)
    return replace(spec, iris_scatter_ev=size)


SETTING_FAULTS: Final = (
    switch(
        "as-marked-times",
        "the shutter gives the marked times, 1/60 and not 1/64 s",
        lambda spec: replace(spec, time_rule="as-marked"),
    ),
    switch(
        "as-marked-apertures",
        "the iris gives the marked f-numbers, 5.6 and not 5.657",
        lambda spec: replace(spec, aperture_rule="as-marked"),
    ),
    Fault(
        name="shutter-scatter",
        size=0.05,
        unit="EV rms",
        what="the shutter time varies from frame to frame",
        change=lambda spec, size: replace(spec, shutter_scatter_ev=size),
        high=1.0,
    ),
    Fault(
        name="shutter-late",
        size=0.1,
        unit="EV at 1/1000 s",
        what="the shutter closes late by the same time at all settings, so short times suffer",
        change=_shutter_late,
        high=2.0,
    ),
    Fault(
        name="iris-scatter",
        size=0.15,
        unit="EV rms",
        what="the iris closes a little otherwise for each frame",
        change=lambda spec, size: replace(spec, iris_scatter_ev=size),
        high=1.0,
    ),
    Fault(
        name="aperture-mark",
        size=0.1,
        unit="EV",
        what="the iris lets in more light than its mark says, in all frames alike",
        change=_aperture_mark,
        low=-2.0,
        high=2.0,
    ),
    Fault(
        name="aperture-bracket",
        size=0.15,
        unit="EV rms",
        what="the series is bracketed with the iris, which scatters, instead of the time",
        change=_aperture_bracket,
        high=1.0,
    ),
    Fault(
        name="t-stop-loss",
        size=0.42,
        unit="EV",
        what="the lens keeps light that its f-number doesn't tell",
        change=lambda spec, size: replace(spec, lens_loss_ev=size),
        high=3.0,
    ),
    Fault(
        name="t-stop-in-sheet",
        size=0.42,
        unit="EV",
        what="the lens keeps light, with its T-number given in the sheet",
        change=lambda spec, size: replace(spec, lens_loss_ev=size, lens_loss_in_sheet=True),
        high=3.0,
    ),
    Fault(
        name="close-focus",
        size=0.1,
        unit="magnification",
        what="the lens is drawn out for a near card, which costs light",
        change=lambda spec, size: replace(
            spec, extension_ev=spec.extension_ev + 2.0 * math.log2(1.0 + size)
        ),
        high=2.0,
    ),
)
