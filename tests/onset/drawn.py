"""Calibrations and scenes whose errors are drawn from the distributions that the budget states."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from profiler import simulate, standards
from profiler.calibration import pipeline
from profiler.frames.statistics import measure_patch
from profiler.onset.profile import Profile
from profiler.simulate.marks import marked_value
from profiler.simulate.memory import frame_record, measure_in_memory
from profiler.simulate.scene import metered_ev100, metered_luminance_cd_m2, reading_text
from profiler.simulate.sensor import Body

METER_EV = standards.METER_REPEATABILITY_EV
SIZE = (96, 96)
SCATTER_EV = 0.03
LABELS = (100, 400)
GREY = standards.GREY_REFLECTANCE.value


@dataclass(frozen=True)
class Rig:
    """One body with its calibration, and how far each mark of its iris stands off."""

    body: Body
    profile: Profile
    iris_ev: dict[str, float]


@dataclass(frozen=True)
class Landed:
    """What a rendered patch says: stops below clip per channel, None where that channel is full."""

    below_clip_ev: dict[str, float | None]

    def clipped(self, channel: str) -> bool:
        return self.below_clip_ev[channel] is None


def rig(seed: int, *, modes=("spot", "incident-flat"), body="halden-h2") -> Rig:
    """A calibration with reading error, iris off its mark, card off 18 %, shutter scatter."""
    rng = np.random.default_rng([seed, 7001])
    aperture = "5.6"
    iris = {mark: float(rng.uniform(-1, 1)) * standards.APERTURE_MARK_EV for mark in _MARKS}
    card = GREY * 2.0 ** (float(rng.uniform(-1, 1)) * standards.CARD_REFLECTANCE_EV)
    meter = simulate.HandMeter(error_ev=float(rng.uniform(-METER_EV, METER_EV)))
    spec = simulate.standard_series(
        simulate.load_body(body),
        seed,
        labels=LABELS,
        mode=modes,
        darks=1,
        pairs=False,
        aperture=aperture,
        meter=meter,
        size=SIZE,
        shutter_scatter_ev=SCATTER_EV,
        # off the tenths, so that the display rounds
        ev100=10.0 + float(rng.uniform(0.0, 1.0)),
    )
    scene = replace(spec.scene, vignetting_ev=0.0, reflectance=card)
    spec = replace(
        spec,
        scene=scene,
        shots=tuple(replace(shot, iris_ev=iris[aperture]) for shot in spec.shots),
    )
    measurement, sheet = measure_in_memory(spec, 0.6)
    profile = Profile(pipeline.fit(measurement, sheet, light="daylight"))
    return Rig(body=spec.body, profile=profile, iris_ev=iris)


_MARKS = ("4", "5.6", "8", "11", "16")


def reading(ev100: float, rng: np.random.Generator) -> str:
    """What the meter shows: repeatability and rounding on top of the truth."""
    return reading_text(ev100 + float(rng.uniform(-METER_EV, METER_EV)), "spot", 0.1)


def shoot(rig: Rig, iso: int, time: str, aperture: str, ev100: float, mode: str, seed: int):
    """Render a neutral spot (or, for an incident mode, an 18 % card) and see where it lands."""
    l_unit = metered_luminance_cd_m2(simulate.HandMeter(), mode, GREY)
    scene = simulate.Scene(
        luminance_cd_m2=l_unit * 2.0**ev100, card_width=1.0, card_height=1.0, vignetting_ev=0.0
    )
    assert abs(metered_ev100(scene, simulate.HandMeter(), mode) - ev100) < 1e-9
    spec = simulate.SeriesSpec(
        body=rig.body,
        scene=scene,
        shots=(
            simulate.Shot(iso=iso, time=time, aperture=aperture, iris_ev=rig.iris_ev[aperture]),
        ),
        seed=seed,
        shutter_scatter_ev=SCATTER_EV,
        size=(48, 48),
    )
    mosaic = frame_record(spec, 0)
    label = rig.body.label(iso)
    found = {}
    for name, cell in measure_patch(mosaic.values_dn, mosaic.cfa).items():
        clip, black = label.clip_dn[name], label.black_dn[name]
        full = cell.median_dn >= clip - 1.0
        found[name] = None if full else float(np.log2((clip - black) / (cell.mean_dn - black)))
    return Landed(below_clip_ev=found)


def time_mark_for(seconds: float) -> str:
    """The third-stop mark nearest to a time."""
    from profiler.simulate.marks import TIME_MARKS, nearest_time_mark

    mark = nearest_time_mark(seconds)
    assert mark in TIME_MARKS
    assert marked_value(mark) > 0.0
    return mark
