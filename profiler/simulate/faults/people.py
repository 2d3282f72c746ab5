"""Faults of whoever holds the meter, types the sheet or shoots the series."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from profiler.simulate.exposure import placement_ev
from profiler.simulate.faults.fault import (
    Fault,
    edit_shots,
    generator,
    lit_frames,
    some_frames,
    switch,
)
from profiler.simulate.scene import metered_luminance_cd_m2
from profiler.simulate.series import SeriesSpec
from profiler.simulate.truth import result

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


def _mistyped(spec: SeriesSpec, size: float) -> SeriesSpec:
    changed = edit_shots(
        spec,
        some_frames(spec, 1, "mistyped-reading"),
        lambda _, shot: {"reading_error_ev": shot.reading_error_ev + size},
    )
    anew = spec.frame_readings and spec.read_anew
    return replace(changed, frame_readings=True, read_anew=anew)


def _repeatability(spec: SeriesSpec, size: float) -> SeriesSpec:
    errors = size * generator(spec, "meter-repeatability").standard_normal(len(spec.shots))
    changed = edit_shots(
        spec,
        lit_frames(spec),
        lambda index, shot: {"reading_error_ev": shot.reading_error_ev + float(errors[index])},
    )
    return replace(changed, frame_readings=True, read_anew=True)


def _rounded(spec: SeriesSpec, size: float) -> SeriesSpec:
    part = float(generator(spec, "reading-rounded").uniform(-0.5, 0.5))
    luminance = spec.scene.luminance_cd_m2 * 2.0 ** (part * size)
    return replace(
        spec,
        scene=replace(spec.scene, luminance_cd_m2=luminance),
        meter=replace(spec.meter, resolution_ev=size),
    )


def _wrong_mode(spec: SeriesSpec) -> SeriesSpec:
    return replace(spec, sheet_modes=tuple(_MISTAKEN_FOR[mode] for mode in spec.modes))


def _wrong_receptor(spec: SeriesSpec) -> SeriesSpec:
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


def _no_clip(spec: SeriesSpec) -> SeriesSpec:
    mode = spec.written_modes[0]
    headroom_ev = {iso: result(spec, iso, mode)["clip_headroom_ev"] for iso in spec.isos}
    kept = tuple(
        shot
        for index, shot in enumerate(spec.shots)
        if shot.dark or placement_ev(spec, index, mode) < headroom_ev[shot.iso] - 0.1
    )
    return replace(spec, shots=kept)


def _few_frames(spec: SeriesSpec, size: float) -> SeriesSpec:
    kept: set[int] = {i for i, shot in enumerate(spec.shots) if shot.dark}
    for iso in spec.isos:
        frames = lit_frames(spec, iso)
        count = min(int(size), len(frames))
        steps = max(1, count - 1)
        kept |= {frames[len(frames) - 1 - k * (len(frames) - 1) // steps] for k in range(count)}
    return replace(spec, shots=tuple(shot for i, shot in enumerate(spec.shots) if i in kept))


PEOPLE_FAULTS: Final = (
    Fault(
        name="mistyped-reading",
        size=1.0,
        unit="EV",
        what="one frame's reading is written down wrong, f/11 for f/8",
        change=_mistyped,
        low=-8.0,
        high=8.0,
    ),
    Fault(
        name="iso-left-on-meter",
        size=2.0,
        unit="EV",
        what="the meter was left at another ISO, so that all readings are off",
        change=_meter_off,
        low=-8.0,
        high=8.0,
    ),
    Fault(
        name="compensation-left",
        size=0.3,
        unit="EV",
        what="a compensation was left dialled into the meter",
        change=_meter_off,
        low=-8.0,
        high=8.0,
    ),
    Fault(
        name="meter-error",
        size=0.1,
        unit="EV",
        what="the meter reads high",
        change=_meter_off,
        low=-3.0,
        high=3.0,
    ),
    Fault(
        name="meter-repeatability",
        size=0.1,
        unit="EV rms",
        what="the meter is read anew for each frame, with scatter",
        change=_repeatability,
        high=1.0,
    ),
    Fault(
        name="reading-rounded",
        size=0.1,
        unit="EV",
        what="the display rounds to this step, with the light between two steps",
        change=_rounded,
        low=0.01,
        high=1.0,
    ),
    switch(
        "wrong-mode",
        "the sheet names another mode than the meter was used in",
        _wrong_mode,
    ),
    switch(
        "wrong-receptor",
        "the flat card was read with the dome out, the sheet says flat",
        _wrong_receptor,
    ),
    switch("clip-missing", "the series stops before clip", _no_clip),
    Fault(
        name="few-frames",
        size=3.0,
        unit="frames",
        what="only this many frames are left at each ISO label",
        change=_few_frames,
        low=1.0,
    ),
)
