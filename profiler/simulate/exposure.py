"""The exposure that one simulated frame really got."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from profiler import standards
from profiler.simulate.marks import true_aperture, true_time_s
from profiler.simulate.scene import metered_exposure_lx_s, veil_light

if TYPE_CHECKING:
    from profiler.simulate.series import SeriesSpec


@dataclass(frozen=True, kw_only=True)
class FrameExposure:
    """True time, f-number, errors and focal-plane exposure of one frame; positive is more light.

    exposure_lx_s: at the card's centre, lens loss and close focus taken off, before flicker and
    veil. flicker_phase_rad: phase of the mains at the start of the first row.
    """

    time_s: float
    aperture: float
    shutter_error_ev: float
    iris_error_ev: float
    light_error_ev: float
    exposure_lx_s: float
    flicker_phase_rad: float


def frame_exposure(spec: SeriesSpec, index: int) -> FrameExposure:
    """Return the exposure of a frame, its random parts drawn from the frame's own generator.

    H = q L t/N^2 (ISO 12232:2006 via colour-hdri, q = 0.65, no flare); flash: L t is the card's
    luminous exposure.
    """
    shot = spec.shots[index]
    rng = np.random.default_rng(np.random.SeedSequence(spec.seed, spawn_key=(index, 0)))
    shutter, iris, light = (float(z) for z in rng.standard_normal(3))
    phase = float(rng.uniform(0.0, 2.0 * math.pi))
    shutter_ev = shot.shutter_ev + spec.shutter_scatter_ev * shutter
    iris_ev = shot.iris_ev + spec.iris_scatter_ev * iris
    light_ev = shot.light_ev + math.log2(max(0.01, 1.0 + spec.effects.light_scatter * light))
    time_s = true_time_s(shot.time, spec.time_rule) * 2.0**shutter_ev
    aperture = true_aperture(shot.aperture, spec.aperture_rule) * 2.0 ** (-0.5 * iris_ev)
    stops = shot.power_ev + light_ev - spec.lens_loss_ev - spec.extension_ev
    light_s = spec.scene.luminance_cd_m2 * (1.0 if spec.flash else time_s) * 2.0**stops
    return FrameExposure(
        time_s=time_s,
        aperture=aperture,
        shutter_error_ev=shutter_ev,
        iris_error_ev=iris_ev,
        light_error_ev=light_ev,
        exposure_lx_s=standards.Q_FACTOR.value * light_s / aperture**2,
        flicker_phase_rad=phase,
    )


def flicker_by_row(
    spec: SeriesSpec, frame: FrameExposure, first_row: int, rows: int
) -> NDArray[np.float32]:
    """Return the light that rows of the active area get as a part of the steady light.

    1 + m sinc(f t) sin(phase + 2 pi f t_row + pi f t) for a sine ripple of depth m at f Hz; the
    rows start one after the other over the readout time.
    """
    effects = spec.effects
    if effects.flicker_depth == 0.0 or spec.flash:
        return np.ones(rows, dtype=np.float32)
    row_s = effects.readout_s * np.arange(first_row, first_row + rows) / spec.frame_size[1]
    depth = effects.flicker_depth * np.sinc(effects.flicker_hz * frame.time_s)
    start = frame.flicker_phase_rad + math.pi * effects.flicker_hz * frame.time_s
    wave = np.sin(start + 2.0 * math.pi * effects.flicker_hz * row_s)
    return np.asarray(1.0 + depth * wave, dtype=np.float32)


def placement_ev(spec: SeriesSpec, index: int, mode: str) -> float:
    """Return the true placement of a frame in stops: its exposure over the metered one.

    At the card's centre, over the middle half of the rows where the light flickers. A lens loss
    counts only where the sheet gives the T-number; else it is part of the metered level.
    """
    frame = frame_exposure(spec, index)
    height = spec.frame_size[1]
    flicker = float(flicker_by_row(spec, frame, height // 4, max(1, height // 2)).mean())
    metered = metered_exposure_lx_s(spec.scene, spec.meter, mode, spec.shots[index].iso)
    lens_ev = 0.0 if spec.lens_loss_in_sheet else spec.lens_loss_ev
    veil = 1.0 + veil_light(spec.scene)
    return lens_ev + math.log2(frame.exposure_lx_s * flicker * veil / metered)
