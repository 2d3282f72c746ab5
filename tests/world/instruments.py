"""Meters and lenses judged by a body, in a world that isn't the simulator's own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler.files.sheet import Sheet, parse_sheet
from profiler.records import FrameMeasure, FrameTags, Measurement, Meter, Tag

from .kind import World
from .marks import nearest_time
from .meter import reading
from .sensor import ACROSS, CHANNELS, DOWN, PIXELS, Sensor, statistics
from .shoot import _sensor as draw_sensor

APERTURE = 8.0
DISPLAYS = {"EV tenths": 0.1, "f and tenths": 0.1, "thirds": 1.0 / 3.0, "lx two figures": None}


@dataclass(frozen=True, kw_only=True)
class MeterWalk:
    """A walk of the lamp with what only its maker knows: how the meter strays at each level."""

    measurement: Measurement
    sheet: Sheet
    meter: Meter
    strays_ev: NDArray[np.float64]


def walk(seed: int, display: str = "EV tenths") -> MeterWalk:
    """Return frames at seven to twelve light levels; the meter bends, and jumps between ranges."""
    rng = np.random.default_rng([seed, 77])
    sensor = draw_sensor(World(name="walk"), 0, rng)
    top = float(sensor.clip_ev().min()) - rng.uniform(0.3, 0.8)
    steps = rng.uniform(0.5, 1.0, int(rng.integers(6, 12)))
    body_ev = top - np.concatenate([[0.0], np.cumsum(steps)])
    body_ev = body_ev[body_ev > top - 6.5]
    mark = nearest_time(-6.0, thirds=False)
    # the light that gives such levels at one time and aperture, ISO 100
    light_ev = body_ev + 2.0 * np.log2(APERTURE) - mark.log2_s("exact")
    x = (light_ev - light_ev.mean()) / 3.0
    strays = rng.normal(0.0, 0.06) * x + rng.normal(0.0, 0.06) * x**2
    strays = strays + rng.choice([-0.08, 0.08]) * (light_ev > rng.choice(light_ev))
    scatter, repeat = rng.uniform(0.01, 0.04), rng.uniform(0.02, 0.06)
    rows, shots = [], []
    for k, (ev, light) in enumerate(zip(body_ev, light_ev, strict=True)):
        names = [f"L{k:02d}-{i}" for i in range(int(rng.integers(2, 5)))]
        for name in names:
            shots.append((name, float(ev + rng.logistic(0.0, scatter * np.sqrt(3.0) / np.pi))))
        for _ in range(int(rng.integers(2, 5))):
            shown = light + 0.3 + strays[k] + repeat * rng.normal()
            text, _ = reading(display, float(shown), rng)
            mode = "incident-flat" if display.startswith("lx") else "spot"
            rows.append(f"{rng.choice(names)},{text},{mode}")
    frames = frames_of(sensor, [(n, ev, mark.marked_s, APERTURE, "") for n, ev in shots], rng)
    rows += [f"{frame.file},dark," for frame in frames if frame.file.startswith("Z")]
    step = DISPLAYS[display]
    return MeterWalk(
        measurement=Measurement(frames=frames, patch=""),
        sheet=parse_sheet("file,reading,mode\n" + "\n".join(rows) + "\n", "sheet.csv"),
        meter=Meter(resolution_ev=step),
        strays_ev=(strays - strays.mean())[::-1],
    )


def frames_of(
    sensor: Sensor, shots: list[tuple[str, float, float, float, str]], rng: np.random.Generator
) -> tuple[FrameMeasure, ...]:
    """Return frames of name, EV, time in s, aperture, lens, and two dark ones."""
    shape = 1.0 + 0.005 * rng.normal(0.0, 1.0, (len(CHANNELS), PIXELS))
    shape += rng.normal(0.0, 0.01) * ACROSS + rng.normal(0.0, 0.01) * DOWN
    every = [*shots, *[(f"Z{k}", -np.inf, *shots[0][2:]) for k in range(2)]]
    codes = sensor.pixels(np.array([ev for _, ev, *_ in every]), shape, rng)
    out = []
    for i, (name, _, time_s, aperture, lens) in enumerate(every):
        tags = {"iso": 100, "time_s": time_s, "aperture": aperture, "lens": lens or None}
        out.append(
            FrameMeasure(
                file=name,
                sha256="0" * 64,
                tags=FrameTags(
                    **{k: Tag(value=v, source="Exif") for k, v in tags.items() if v is not None}
                ),
                channels=statistics(codes[i], None),
            )
        )
    return tuple(out)
