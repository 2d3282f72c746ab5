"""Shoots one calibration of a world: body, light, meter and hand all drawn from its seed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from profiler.files.sheet import parse_sheet
from profiler.records import FrameMeasure, FrameTags, Measurement, Tag

from .habits import course
from .kind import Series, World
from .marks import TimeMark, nearest_time
from .meter import REPEATABILITY_EV, reading
from .sensor import ACROSS, CHANNELS, DOWN, PIXELS, Sensor, statistics

IRIS_EV = 0.027  # of the iris against its mark, normal
CARD_EV = 0.045  # of the card against 18 %, normal
APERTURE = 8.0  # its exact member is itself


def shoot(world: World, seed: int) -> Series:
    """Return one calibration; the same seed gives the same calibration."""
    rng = np.random.default_rng([seed, *world.name.encode()])
    sensors = {iso: _sensor(world, place, rng) for place, iso in enumerate(world.labels)}
    light_ev, steady_ev = rng.uniform(8.5, 11.5), rng.normal(0.0, 0.15)
    frames = [
        (iso, mark)
        for iso, sensor in sensors.items()
        for mark in _bracket(world, float(sensor.clip_ev().min()), light_ev, iso, rng)
    ]
    n = len(frames)
    when = np.linspace(0.0, 1.0, n)
    drift = rng.uniform(-world.drift_ev, world.drift_ev) * course(rng, when)
    drift = drift * (rng.uniform() < world.drift_share)
    drift = drift + world.wander_ev * np.cumsum(rng.normal(0.0, 0.4, n))
    error = _errors(world, frames, rng)
    iris = rng.normal(0.0, IRIS_EV)
    card = 0.0 if world.mode == "spot" else rng.normal(0.0, CARD_EV)

    body_ev = light_ev + drift + error + iris + card
    body_ev = body_ev + np.array([np.log2(iso / 100.0) for iso, _ in frames])
    body_ev = (
        body_ev + np.array([m.log2_s(world.rule) for _, m in frames]) - 2.0 * np.log2(APERTURE)
    )

    rows, wrong_ev = _read(world, light_ev + steady_ev, drift, rng)
    slips = _slips(world, frames, body_ev, sensors, rng)
    rows += [f"{_file(place)},,,{mark.text}" for place, mark in slips.items()]
    measured = _measure(world, frames, body_ev, sensors, rng)
    rows += [f"{frame.file},dark,," for frame in measured if frame.file.startswith("Z")]
    anew = world.readings == "each frame"
    unmeasured = 0.0 if anew else float(np.ptp(drift))
    off = error - wrong_ev if anew else error + drift
    spread = [np.std(off[[frame[0] == iso for frame in frames]]) for iso in world.labels]
    given = -iris - card + (0.0 if anew else float(wrong_ev[0]))
    return Series(
        measurement=Measurement(frames=measured, patch=""),
        sheet=parse_sheet("file,reading,mode,time\n" + "\n".join(rows) + "\n", "sheet.csv"),
        headroom_ev={iso: float(s.clip_ev().min()) + steady_ev for iso, s in sensors.items()},
        given_ev=None if unmeasured else given,
        frame_error_ev={
            _file(i): float(error[i] - (wrong_ev[i] if anew else 0.0)) for i in range(n)
        },
        slips=frozenset(_file(i) for i in slips),
        drift_ev=unmeasured,
        iris_ev=iris,
        uneven_ev=float(max(spread)),
    )


def _file(place: int) -> str:
    return f"F{place + 1:04d}"


def _sensor(world: World, place: int, rng: np.random.Generator) -> Sensor:
    """A body of a random white balance, black and clip; each label has its own gain."""
    top = 2.0**world.bits - 1.0
    black = rng.uniform(0.02, 0.04) * top + rng.normal(0.0, 0.3, 4)
    clip = np.rint(top * (1.0 - rng.uniform(0.0, 0.04)) - rng.uniform(0.0, 0.002, 4) * top)
    span = clip - black
    headroom = world.headroom_ev + rng.normal(0.0, 0.25)
    green = rng.normal(0.0, 0.002)
    red, blue = rng.uniform(0.35, 1.1), rng.uniform(0.5, 1.2)
    balance = np.log2([1.0 / (1.0 + red), 1.0, 1.0 - abs(green), 1.0 / (1.0 + blue)])
    electrons = 3.0 * 2.0 ** (14 - world.bits - place)
    return Sensor(
        black_dn=black,
        clip_dn=clip,
        metered_dn=span * np.exp2(balance - headroom),
        electrons_per_dn=electrons,
        read_dn=max(0.8, 4.0 / electrons),
        nonlinear=world.nonlinear,
        bell_dn=world.bell_dn * rng.uniform(0.5, 2.0),
    )


def _bracket(
    world: World, clip_ev: float, light_ev: float, iso: int, rng: np.random.Generator
) -> list[TimeMark]:
    """Marks of one label, dark to bright, by somebody who knows roughly where clip lies."""
    off = rng.uniform(-0.1, 0.1) if world.one_channel else rng.uniform(-0.4, 0.4)
    stops = np.array(world.bracket)
    if world.few[1]:
        count = int(rng.integers(world.few[0], world.few[1] + 1)) - 1
        stops = np.append(np.sort(rng.choice(stops[:-1], count, replace=False)), stops[-1])
    zero = 2.0 * np.log2(APERTURE) - light_ev - np.log2(iso / 100.0)
    marks = [nearest_time(zero + clip_ev + off + s, thirds=world.thirds) for s in stops]
    return [mark for mark in marks for _ in range(world.repeats)]


def _errors(
    world: World, frames: list[tuple[int, TimeMark]], rng: np.random.Generator
) -> NDArray[np.float64]:
    """How much more exposure each frame got than its mark stands for, in EV."""
    error = world.frame_error(rng, len(frames))
    if world.label_scale:
        error = error * [world.label_scale[world.labels.index(iso)] for iso, _ in frames]
    if world.time_error is not None:
        marks = list(dict.fromkeys(mark for _, mark in frames))
        shared = dict(zip(marks, world.time_error(rng, len(marks)), strict=True))
        error = error + np.array([shared[mark] for _, mark in frames])
    return error


def _read(
    world: World, indicated_ev: float, drift: NDArray[np.float64], rng: np.random.Generator
) -> tuple[list[str], NDArray[np.float64]]:
    """Rows of the sheet, and how much more each reading says than the meter's mean would."""
    n = drift.size
    at = {
        "one": [0.0],
        "two at once": [0.0, 0.0],
        "before and after": [0.0, float(drift[-1])],
        "each frame": list(drift),
    }[world.readings]
    typed = [
        reading(world.display, indicated_ev + ev + rng.normal(0.0, REPEATABILITY_EV), rng)
        for ev in at
    ]
    wrong = np.array([meant - indicated_ev - ev for (_, meant), ev in zip(typed, at, strict=True)])
    if world.readings == "each frame":
        return [f"{_file(i)},{text},{world.mode}," for i, (text, _) in enumerate(typed)], wrong
    return [f"*,{text},{world.mode}," for text, _ in typed], np.full(n, wrong.mean())


def _slips(
    world: World,
    frames: list[tuple[int, TimeMark]],
    body_ev: NDArray[np.float64],
    sensors: dict[int, Sensor],
    rng: np.random.Generator,
) -> dict[int, TimeMark]:
    """Frames whose time is typed wrong by a stop or more: place -> what is typed."""
    below = np.array([float(sensors[iso].clip_ev().min()) for iso, _ in frames]) - body_ev
    seen = np.flatnonzero((below > 0.4) & (below < 5.5))
    out = {}
    for place in rng.choice(seen, world.slips, replace=False):
        by = float(rng.choice([-2.0, -1.0, 1.0, 2.0]))
        out[int(place)] = nearest_time(frames[place][1].exact_log2_s + by, thirds=world.thirds)
    return out


def _measure(
    world: World,
    frames: list[tuple[int, TimeMark]],
    body_ev: NDArray[np.float64],
    sensors: dict[int, Sensor],
    rng: np.random.Generator,
) -> tuple[FrameMeasure, ...]:
    """Every frame's patch, label by label; the lens-cap frames of all labels come last."""
    shape = 1.0 + 0.005 * rng.normal(0.0, 1.0, (len(CHANNELS), PIXELS))
    shape += rng.normal(0.0, 0.01) * ACROSS + rng.normal(0.0, 0.01) * DOWN
    lit, dark = [], []
    for iso, sensor in sensors.items():
        of_label = [i for i, frame in enumerate(frames) if frame[0] == iso]
        shots = [(_file(i), frames[i][1], float(body_ev[i])) for i in of_label]
        shots += [(f"Z{iso:06d}-{k}", frames[of_label[0]][1], -np.inf) for k in range(world.darks)]
        codes = sensor.pixels(np.array([ev for *_, ev in shots]), shape, rng)
        tag = dict.fromkeys(CHANNELS, float(np.rint(sensor.black_dn.mean())) + world.tag_error_dn)
        keys = [(mark, np.isinf(ev)) for _, mark, ev in shots]
        for i, (file, mark, ev) in enumerate(shots):
            alike = [j for j, key in enumerate(keys) if key == keys[i] and j != i]
            measure = FrameMeasure(
                file=file,
                sha256="0" * 64,
                tags=FrameTags(
                    iso=Tag(value=iso, source="Exif"),
                    time_s=Tag(value=mark.marked_s, source="Exif"),
                    aperture=Tag(value=APERTURE, source="Exif"),
                ),
                channels=statistics(codes[i], codes[alike[0]] if alike else None),
                black_tag_dn=tag,
                pair=shots[alike[0]][0] if alike else "",
            )
            (dark if np.isinf(ev) else lit).append(measure)
    return (*lit, *dark)
