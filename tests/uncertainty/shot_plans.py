"""Plans of many kinds, and sharp series, shot by the simulator with the errors that they reckon
with."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from profiler import simulate, standards
from profiler.calibration import pipeline
from profiler.files.sheet import parse_sheet
from profiler.frames.cache import MeasureCache
from profiler.onset.plan import ELECTRONIC, Plan, PlanAsk, plan
from profiler.records import Meter
from profiler.results import Result
from profiler.simulate.marks import TIME_MARKS, marked_value
from profiler.simulate.memory import measure_in_memory
from profiler.simulate.scene import metered_ev100
from profiler.simulate.truth import result as true_result
from profiler.simulate.write import file_names

SIZE = (96, 64)
PATCH = "0.2,0.2,0.6,0.6"


def drawn_plan(seed: int) -> tuple[PlanAsk, Meter]:
    """One of the plans that a photographer might make, and the meter for it."""
    rng = np.random.default_rng([seed, 31415])
    meter = Meter(
        repeatability_ev=float(rng.choice([0.05, 0.1])),
        resolution_ev=float(rng.choice([0.01, 0.1, 1.0 / 3.0])),
    )
    ask = PlanAsk(
        isos=((400,), (100, 400), (100, 200, 400))[rng.integers(3)],
        mode=str(rng.choice(["spot", "incident-flat"])),
        short=bool(rng.integers(2)),
        copies=int(rng.integers(1, 4)),
        darks=int(rng.choice([0, 2])),
        readings=int(rng.choice([1, 2, 3, 4, 6, 8])),
        shutter=ELECTRONIC if rng.integers(2) else "mechanical",
    )
    return ask, meter


def readings(ev100: float, meter: Meter, count: int, rng: np.random.Generator) -> list[str]:
    """What the meter shows, read so often: repeatability, then the step of the display."""
    step = meter.resolution_ev or 0.1
    decimals = 2 if step in (0.01, 0.1) else 6
    shown = [
        step * round((ev100 + float(rng.uniform(-1.0, 1.0)) * meter.repeatability_ev) / step)
        for _ in range(count)
    ]
    return [f"EV {value:.{decimals}f}" for value in shown]


def spec_of(made: Plan, seed: int, rng: np.random.Generator):
    """The plan's own list as a simulated series, its light off the steps of the display."""
    spec = simulate.standard_series(
        simulate.load_body("halden-h2"),
        seed,
        labels=tuple(label.iso for label in made.labels),
        mode=made.mode,
        ev100=made.ev100 + float(rng.uniform(-0.15, 0.15)),
        size=SIZE,
        shutter_scatter_ev=standards.ELECTRONIC_SCATTER_EV
        if made.electronic
        else standards.SHUTTER_SCATTER_EV,
    )
    shots = []
    for frame in (f for label in made.labels for f in label.frames):
        seconds = frame.setting.shutter.marked_s
        mark = min(TIME_MARKS, key=lambda m: abs(math.log2(marked_value(m) / seconds)))
        marked = f"{frame.setting.aperture.marked:g}"
        shot = simulate.Shot(iso=frame.iso, time=mark, aperture=marked, dark=frame.dark)
        shots += [shot] * frame.copies
    iris = float(rng.uniform(-1.0, 1.0)) * standards.APERTURE_MARK_EV
    card = 0.0
    if made.mode != "spot":
        card = float(rng.uniform(-1.0, 1.0)) * standards.CARD_REFLECTANCE_EV
    lit = tuple(s if s.dark else replace(s, iris_ev=iris + card) for s in shots)
    return replace(spec, shots=lit), iris


def sheet_of(spec, typed: list[str], mode: str, dark: list[str]):
    rows = [f"*,{text},{mode}" for text in typed] + [f"{file},dark," for file in dark]
    return parse_sheet("file,reading,mode\n" + "\n".join(rows) + "\n", "sheet.csv")


def fitted(spec, typed: list[str], mode: str, meter: Meter, folder: Path | None = None):
    """The results of a series, measured in memory, or through DNG files in a folder."""
    if folder is None:
        measurement, sheet = measure_in_memory(spec, 0.6)
        dark = [row.file for row in sheet.rows if row.dark]
    else:
        simulate.write_series(spec, folder / "series")
        names = file_names(spec)
        dark = [name for name, shot in zip(names, spec.shots, strict=True) if shot.dark]
        cache = MeasureCache(folder / "cache")
        try:
            measurement = pipeline.measure(
                folder / "series",
                sheet_of(spec, typed, mode, dark),
                patch=PATCH,
                cache=cache,
            )
        finally:
            cache.close()
    return pipeline.fit(measurement, sheet_of(spec, typed, mode, dark), meter=meter).results


def half(estimate) -> float:
    return 0.5 * (estimate.high - estimate.low)


def promise_and_result(seed: int) -> tuple[float, float, float, float]:
    """Promised and found half-interval of one drawn plan, at any aperture and at its own.

    Of several labels the least certain counts, as in a plan.
    """
    ask, meter = drawn_plan(seed)
    rng = np.random.default_rng([seed, 27182])
    made = plan(ask, meter=meter)
    spec, _ = spec_of(made, seed, rng)
    results = fitted(spec, typed_for(spec, made, meter, rng), made.mode, meter)
    any_half = max(half(r.offset_ev) for r in results)
    here_half = max(half(r.at_measured_aperture.offset_ev) for r in results)
    return made.half_ev, any_half, made.here_half_ev, here_half


def typed_for(spec, made: Plan, meter: Meter, rng: np.random.Generator) -> list[str]:
    true = metered_ev100(spec.scene, spec.meter, made.mode)
    return readings(true, meter, made.readings, rng)


@dataclass(frozen=True)
class Sharp:
    """Half the interval at the measured aperture of one sharp series, and whether it held."""

    half_ev: float
    held: bool
    error_ev: float


def sharp_series(seed: int, meter: Meter, count: int = 4, folder: Path | None = None) -> Sharp:
    """A series at one aperture, with so many readings and an electronic shutter."""
    rng = np.random.default_rng([seed, 16180])
    ask = PlanAsk(isos=(400,), readings=count, shutter=ELECTRONIC)
    made = plan(ask, meter=meter)
    spec, iris = spec_of(made, seed, rng)
    results: tuple[Result, ...] = fitted(
        spec, typed_for(spec, made, meter, rng), made.mode, meter, folder
    )
    found = results[0].at_measured_aperture.offset_ev
    true = float(true_result(spec, 400, "spot")["offset_ev"]) - iris
    return Sharp(
        half_ev=half(found), held=found.low <= true <= found.high, error_ev=found.value - true
    )
