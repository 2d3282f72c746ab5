"""Faults of the people who hold the meter, type the sheet or shoot the series."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from profiler.simulate.exposure import placement_ev
from profiler.simulate.faults.fault import Faults, edit_shots, generator, lit_frames, some_frames
from profiler.simulate.scene import metered_luminance_cd_m2
from profiler.simulate.series import SeriesSpec
from profiler.simulate.truth import result

PEOPLE_FAULTS: Final = Faults()


_MISTAKEN_FOR: Final = {
    "spot": "incident-flat",
    "incident-flat": "spot",
    "incident-dome": "spot",
    "flash-spot": "flash-flat",
    "flash-flat": "flash-spot",
    "flash-dome": "flash-spot",
}


def _meter_off(spec: SeriesSpec, size: float) -> SeriesSpec:
    return replace(spec, meter=replace(spec.meter, error_ev=spec.meter.error_ev + size))


@PEOPLE_FAULTS.sized("mistyped-reading", 1.0, "EV", low=-8.0, high=8.0)
def _mistyped_reading(spec: SeriesSpec, size: float) -> SeriesSpec:
    """One frame's reading is written down wrong, f/11 for f/8."""
    changed = edit_shots(
        spec,
        some_frames(spec, 1, "mistyped-reading"),
        lambda _, shot: {"reading_error_ev": shot.reading_error_ev + size},
    )
    anew = spec.frame_readings and spec.read_anew
    return replace(changed, frame_readings=True, read_anew=anew)


@PEOPLE_FAULTS.sized("iso-left-on-meter", 2.0, "EV", low=-8.0, high=8.0)
def _iso_left_on_meter(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The meter was left at another ISO, so that all readings are off."""
    return _meter_off(spec, size)


@PEOPLE_FAULTS.sized("compensation-left", 0.3, "EV", low=-8.0, high=8.0)
def _compensation_left(spec: SeriesSpec, size: float) -> SeriesSpec:
    """A compensation was left dialled into the meter."""
    return _meter_off(spec, size)


@PEOPLE_FAULTS.sized("meter-error", 0.1, "EV", low=-3.0, high=3.0)
def _meter_error(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The meter reads high."""
    return _meter_off(spec, size)


@PEOPLE_FAULTS.sized("meter-repeatability", 0.1, "EV rms", high=1.0)
def _meter_repeatability(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The meter is read anew for each frame, with scatter."""
    errors = size * generator(spec, "meter-repeatability").standard_normal(len(spec.shots))
    changed = edit_shots(
        spec,
        lit_frames(spec),
        lambda index, shot: {"reading_error_ev": shot.reading_error_ev + float(errors[index])},
    )
    return replace(changed, frame_readings=True, read_anew=True)


@PEOPLE_FAULTS.sized("reading-rounded", 0.1, "EV", low=0.01, high=1.0)
def _reading_rounded(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The display rounds to this step, with the light between two steps."""
    part = float(generator(spec, "reading-rounded").uniform(-0.5, 0.5))
    luminance = spec.scene.luminance_cd_m2 * 2.0 ** (part * size)
    return replace(
        spec,
        scene=replace(spec.scene, luminance_cd_m2=luminance),
        meter=replace(spec.meter, resolution_ev=size),
    )


@PEOPLE_FAULTS.switch("wrong-mode")
def _wrong_mode(spec: SeriesSpec) -> SeriesSpec:
    """The sheet names another mode than the meter was used in."""
    return replace(spec, sheet_modes=tuple(_MISTAKEN_FOR[mode] for mode in spec.modes))


@PEOPLE_FAULTS.switch("wrong-receptor")
def _wrong_receptor(spec: SeriesSpec) -> SeriesSpec:
    """The flat card was read with the dome out, the sheet says flat."""
    kind = "flash" if spec.flash else "incident"
    dome, reflectance = f"{kind}-dome", spec.scene.reflectance
    same_reading = metered_luminance_cd_m2(spec.meter, dome, reflectance) / metered_luminance_cd_m2(
        spec.meter, spec.modes[0], reflectance
    )
    luminance = spec.scene.luminance_cd_m2 * same_reading
    return replace(
        spec,
        scene=replace(spec.scene, luminance_cd_m2=luminance),
        modes=(dome,),
        sheet_modes=(f"{kind}-flat",),
    )


@PEOPLE_FAULTS.switch("clip-missing")
def _clip_missing(spec: SeriesSpec) -> SeriesSpec:
    """The series stops before clip."""
    mode = spec.written_modes[0]
    headroom_ev = {iso: result(spec, iso, mode)["clip_headroom_ev"] for iso in spec.isos}
    kept = tuple(
        shot
        for index, shot in enumerate(spec.shots)
        if shot.dark or placement_ev(spec, index, mode) < headroom_ev[shot.iso] - 0.1
    )
    return replace(spec, shots=kept)


@PEOPLE_FAULTS.sized("few-frames", 3.0, "frames", low=1.0)
def _few_frames(spec: SeriesSpec, size: float) -> SeriesSpec:
    """Only this many frames are left at each ISO label."""
    kept: set[int] = {i for i, shot in enumerate(spec.shots) if shot.dark}
    for iso in spec.isos:
        frames = lit_frames(spec, iso)
        count = min(int(size), len(frames))
        steps = max(1, count - 1)
        kept |= {frames[len(frames) - 1 - k * (len(frames) - 1) // steps] for k in range(count)}
    return replace(spec, shots=tuple(shot for i, shot in enumerate(spec.shots) if i in kept))
