"""Faults of shutter, iris or lens."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from profiler.simulate.faults.fault import Faults, edit_shots, lit_frames
from profiler.simulate.marks import (
    APERTURE_MARKS,
    nearest_aperture_mark,
    nearest_time_mark,
    true_aperture,
    true_time_s,
)
from profiler.simulate.series import SeriesSpec, Shot

SETTING_FAULTS: Final = Faults()


_LATE_AT_S: Final = 1.0 / 1000.0


@SETTING_FAULTS.switch("as-marked-times")
def _as_marked_times(spec: SeriesSpec) -> SeriesSpec:
    """The shutter gives the marked times, 1/60 and not 1/64 s."""
    return replace(spec, time_rule="as-marked")


@SETTING_FAULTS.switch("as-marked-apertures")
def _as_marked_apertures(spec: SeriesSpec) -> SeriesSpec:
    """The iris gives the marked f-numbers, 5.6 and not 5.657."""
    return replace(spec, aperture_rule="as-marked")


@SETTING_FAULTS.sized("shutter-scatter", 0.05, "EV rms", high=1.0)
def _shutter_scatter(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The shutter time varies from frame to frame."""
    return replace(spec, shutter_scatter_ev=size)


@SETTING_FAULTS.sized("shutter-late", 0.1, "EV at 1/1000 s", high=2.0)
def _shutter_late(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The shutter closes late by the same time at all settings, so short times suffer."""
    late_s = (2.0**size - 1.0) * _LATE_AT_S

    def later(_: int, shot: Shot) -> dict[str, float]:
        time_s = true_time_s(shot.time, spec.time_rule)
        return {"shutter_ev": shot.shutter_ev + math.log2(1.0 + late_s / time_s)}

    return edit_shots(spec, lit_frames(spec), later)


@SETTING_FAULTS.sized("iris-scatter", 0.15, "EV rms", high=1.0)
def _iris_scatter(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The iris closes a little otherwise for each frame."""
    return replace(spec, iris_scatter_ev=size)


@SETTING_FAULTS.sized("aperture-mark", 0.1, "EV", low=-2.0, high=2.0)
def _aperture_mark(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The iris lets in more light than its mark says, in all frames alike."""
    return edit_shots(spec, lit_frames(spec), lambda _, shot: {"iris_ev": shot.iris_ev + size})


@SETTING_FAULTS.sized("aperture-bracket", 0.15, "EV rms", high=1.0)
def _aperture_bracket(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The series is bracketed with the iris, which scatters, instead of the time.

    Bracket each label by the iris at one time, chosen so that its widest mark is used.
    """
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


@SETTING_FAULTS.sized("t-stop-loss", 0.42, "EV", high=3.0)
def _t_stop_loss(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The lens keeps light that its f-number doesn't tell."""
    return replace(spec, lens_loss_ev=size)


@SETTING_FAULTS.sized("t-stop-in-sheet", 0.42, "EV", high=3.0)
def _t_stop_in_sheet(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The lens keeps light, with its T-number given in the sheet."""
    return replace(spec, lens_loss_ev=size, lens_loss_in_sheet=True)


@SETTING_FAULTS.sized("close-focus", 0.1, "magnification", high=2.0)
def _close_focus(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The lens is drawn out for a near card, which costs light."""
    return replace(spec, extension_ev=spec.extension_ev + 2.0 * math.log2(1.0 + size))
