"""Series that judge a meter or lenses: one card, one body, many light levels or many lenses."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from profiler.errors import GreytareError
from profiler.simulate.levels import channel_truth
from profiler.simulate.marks import true_aperture, true_time_s
from profiler.simulate.scene import HandMeter, Scene, metered_ev100, metered_luminance_cd_m2
from profiler.simulate.sensor import Body
from profiler.simulate.series import SeriesSpec, Shot

_KEY = 1 << 30
"""Key of these series' own generator, out of reach of frame numbers."""
_BELOW_CLIP_EV = (0.4, 7.1)
"""Stops below the first channel's clip between which the light levels lie."""
_MOST_LEVELS = 200


def meter_series(
    body: Body,
    seed: int,
    *,
    levels: int = 10,
    frames_each: int = 3,
    meter: HandMeter | None = None,
    repeatability_ev: float = 0.03,
    shutter_scatter_ev: float = 0.0,
    brightest_ev100: float = 12.0,
    mode: str = "spot",
    iso: int = 100,
    aperture: str = "5.6",
    size: tuple[int, int] | None = (96, 96),
    compression: str = "none",
) -> SeriesSpec:
    """Return frames of the card at several light levels, with a reading taken anew for each frame.

    The lamp is moved between levels, evenly but for a tenth of a stop, so that the display's steps
    fall anywhere; aperture and time stay. repeatability_ev: standard deviation of a reading.
    """
    if not 2 <= levels <= _MOST_LEVELS:
        raise GreytareError(
            f"{levels} light levels can't be made", "levels", f"Use 2 to {_MOST_LEVELS}"
        )
    meter = meter or HandMeter()
    rng = np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(_KEY,)))
    headroom = _headroom_ev(body, iso, meter, mode)
    # the longest marked time that keeps the brightest level below clip
    wanted = headroom - _BELOW_CLIP_EV[0] - math.log2(iso / 100.0) - brightest_ev100
    wanted += 2.0 * math.log2(true_aperture(aperture, "exact"))
    time = next((t for t in _TIMES if math.log2(true_time_s(t, "exact")) <= wanted), _TIMES[-1])
    slack = wanted - math.log2(true_time_s(time, "exact"))
    scene = _lit(meter, mode, brightest_ev100 + slack)
    span = _BELOW_CLIP_EV[1] - _BELOW_CLIP_EV[0]
    shots = []
    for k in range(levels):
        power = -span * k / (levels - 1) - float(rng.uniform(0.0, 0.1))
        shots += [
            Shot(
                iso=iso,
                time=time,
                aperture=aperture,
                power_ev=power,
                reading_error_ev=repeatability_ev * float(rng.standard_normal()),
            )
            for _ in range(frames_each)
        ]
    shots += [Shot(iso=iso, time=time, aperture=aperture, dark=True)] * 2
    return SeriesSpec(
        body=body,
        scene=scene,
        shots=tuple(shots),
        seed=seed,
        meter=meter,
        modes=(mode,),
        shutter_scatter_ev=shutter_scatter_ev,
        frame_readings=True,
        size=size,
        compression=compression,
    )


def true_deviations_ev(spec: SeriesSpec) -> dict[float, float]:
    """Return power of each light level -> how far the meter strays there from its mean, in EV."""
    powers = sorted({shot.power_ev for shot in spec.shots if not shot.dark})
    middle = metered_ev100(spec.scene, spec.meter, spec.modes[0])
    strays = {power: spec.meter.strays_ev(middle + power) for power in powers}
    mean = math.fsum(strays.values()) / len(strays)
    return {power: stray - mean for power, stray in strays.items()}


_TIMES = ("1", "1/2", "1/4", "1/8", "1/15", "1/30", "1/60", "1/125", "1/250", "1/500", "1/1000")


def lens_series(
    body: Body,
    seed: int,
    losses_ev: Mapping[str, float],
    *,
    apertures: Sequence[str] = ("5.6", "8"),
    frames_each: int = 2,
    shutter_scatter_ev: float = 0.0,
    iris_ev: float = 0.04,
    drift_ev: float = 0.0,
    iso: int = 100,
    size: tuple[int, int] | None = (96, 96),
    compression: str = "none",
) -> SeriesSpec:
    """Return frames of the card through several lenses under one light, the first one last again.

    losses_ev: name -> stops lost beyond the first, whose own loss counts as none. iris_ev: limits
    of each iris against its mark, drawn once a lens and mark. drift_ev: change of the light over
    the series. One shutter time; the brightest frame lies a stop below clip.
    """
    rng = np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(_KEY + 1,)))
    meter = HandMeter()
    headroom = _headroom_ev(body, iso, meter, "spot")
    widest = min(true_aperture(mark, "exact") for mark in apertures)
    wanted_ev = headroom - 1.0 - math.log2(iso / 100.0)
    wanted_ev += 2.0 * math.log2(widest) - math.log2(true_time_s("1/60", "exact"))
    scene = _lit(meter, "spot", wanted_ev)
    names = list(losses_ev)
    order = [(name, mark) for name in names for mark in apertures] + [(names[0], apertures[0])]
    off = {cell: float(rng.uniform(-iris_ev, iris_ev)) for cell in dict.fromkeys(order)}
    shots = [
        Shot(
            iso=iso,
            time="1/60",
            aperture=mark,
            lens=name,
            iris_ev=off[name, mark] - losses_ev[name],
            light_ev=drift_ev * i / (len(order) - 1),
        )
        for i, (name, mark) in enumerate(order)
        for _ in range(frames_each)
    ]
    shots += [Shot(iso=iso, time="1/60", aperture=apertures[0], lens=names[0], dark=True)] * 2
    return SeriesSpec(
        body=body,
        scene=scene,
        shots=tuple(shots),
        seed=seed,
        meter=meter,
        shutter_scatter_ev=shutter_scatter_ev,
        size=size,
        compression=compression,
    )


def _headroom_ev(body: Body, iso: int, meter: HandMeter, mode: str) -> float:
    """Stops from the metered grey to the first channel's clip."""
    truth = channel_truth(body, iso, Scene(luminance_cd_m2=1.0), meter, mode)
    return min(channel.headroom_ev for channel in truth.values())


def _lit(meter: HandMeter, mode: str, ev100: float) -> Scene:
    """The card in a light that the meter shows as an EV at ISO 100."""
    scene = Scene(luminance_cd_m2=1.0)
    unit = metered_luminance_cd_m2(meter, mode, scene.reflectance)
    return replace(scene, luminance_cd_m2=unit * 2.0**ev100)


def true_lens_light_ev(spec: SeriesSpec) -> dict[tuple[str, float], float]:
    """Return lens and mark -> how much more light it gives than the first one, in EV."""
    lit = [shot for shot in spec.shots if not shot.dark]
    return {(s.lens or "", float(s.aperture)): s.iris_ev - lit[0].iris_ev for s in lit}
