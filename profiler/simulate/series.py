"""The plan of a simulated series: which frames, under which light, with which seed."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from profiler.errors import GreytareError
from profiler.exposure.modes import is_flash
from profiler.records import LIGHTS, MODES
from profiler.simulate.levels import Effects, channel_truth
from profiler.simulate.marks import RULES, nearest_time_mark, true_aperture
from profiler.simulate.scene import (
    HandMeter,
    Scene,
    metered_ev100,
    metered_luminance_cd_m2,
)
from profiler.simulate.sensor import Body

COMPRESSIONS: Final = ("none", "lossless")
DAMAGES: Final = ("", "truncated", "zeros", "half")
_SCENE_KEY: Final = 1 << 31
"""Key of the scene's own generator, out of reach of frame numbers."""
_MOST_FRAMES: Final = 10_000
_MOST_PIXELS: Final = 200_000_000
_MOST_SCATTER_EV: Final = 5.0
_LEAST_SIDE: Final = 24
"""Pixels a side: the least that a tiled file and a patch need."""
FLASH_APERTURE: Final = "8"
FLASH_TIME: Final = "1/125"


@dataclass(frozen=True, kw_only=True)
class Shot:
    """One frame as the photographer set it, with what went wrong in it.

    time, aperture: as marked. power_ev: light changed on purpose, seen by the meter; light_ev:
    light changed unnoticed; shutter_ev, iris_ev: more light than the setting asks for. gain_ev:
    analogue gain that the label doesn't tell; drop_bits: low bits that a burst leaves out.
    reading_error_ev: what the meter showed, or was written down, too high for this frame.
    tag_...: what the file says instead of the truth ("" leaves the tag out); reference_iso goes
    into the recommended exposure index. model, serial, lens: another body or lens. file: name under
    the series folder, empty for IMG_0001.dng, counted. sheet_time, sheet_aperture: typed by hand.
    """

    iso: int
    time: str
    aperture: str
    dark: bool = False
    power_ev: float = 0.0
    light_ev: float = 0.0
    shutter_ev: float = 0.0
    iris_ev: float = 0.0
    gain_ev: float = 0.0
    drop_bits: int = 0
    reading_error_ev: float = 0.0
    tag_iso: int | None = None
    reference_iso: int | None = None
    tag_time: str | None = None
    tag_aperture: str | None = None
    model: str | None = None
    serial: str | None = None
    lens: str | None = None
    file: str = ""
    damage: str = ""
    sheet_time: str = ""
    sheet_aperture: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class SeriesSpec:
    """Everything that decides the bytes of a simulated series.

    time_rule, aperture_rule: whether shutter and iris give what their mark says ("as-marked") or
    the member of the exact series ("exact"). *_scatter_ev: rms from frame to frame. lens_loss_ev:
    light that the lens keeps; lens_loss_in_sheet: the sheet gives the T-number. extension_ev:
    light lost to close focus. frame_readings: a row with a reading for each frame instead of one
    for all; read_anew: those were taken anew, so that the meter saw how the light changed, instead
    of one reading before the first frame that was written into every row. reading_errors_ev: of
    the readings that hold for all frames, one row each.
    modes: how the meter was used; sheet_modes: what the sheet says where that is something else.
    size: width and height of the active area instead of the body's.
    """

    body: Body
    scene: Scene
    shots: tuple[Shot, ...]
    seed: int
    meter: HandMeter = field(default_factory=HandMeter)
    modes: tuple[str, ...] = ("spot",)
    time_rule: str = "exact"
    aperture_rule: str = "exact"
    shutter_scatter_ev: float = 0.0
    iris_scatter_ev: float = 0.0
    lens_loss_ev: float = 0.0
    lens_loss_in_sheet: bool = False
    extension_ev: float = 0.0
    frame_readings: bool = False
    reading_errors_ev: tuple[float, ...] = (0.0,)
    read_anew: bool = True
    sheet_modes: tuple[str, ...] = ()
    size: tuple[int, int] | None = None
    compression: str = "none"
    effects: Effects = field(default_factory=Effects)
    faults: tuple[tuple[str, float], ...] = ()

    def __post_init__(self) -> None:
        _choice("mode", self.modes, MODES)
        _choice("mode", self.sheet_modes, MODES)
        _choice("time rule", (self.time_rule,), RULES)
        _choice("aperture rule", (self.aperture_rule,), RULES)
        _choice("compression", (self.compression,), COMPRESSIONS)
        _choice("damage", (shot.damage for shot in self.shots), DAMAGES)
        if self.sheet_modes and len(self.sheet_modes) != len(self.modes):
            raise ValueError("sheet_modes must name one mode for each of modes")
        if len({is_flash(mode) for mode in self.modes}) != 1:
            raise GreytareError(
                "flash and continuous light are mixed", "", "Make one series of each", "mode"
            )
        if not 0 <= self.seed < 2**63:
            raise GreytareError(
                f"{self.seed} isn't a seed", "seed", "Give a whole number from 0 up"
            )
        least = max(_LEAST_SIDE, 6 * len(self.body.pattern))
        if min(self.frame_size) < least:
            raise GreytareError(
                f"{self.frame_size[0]} x {self.frame_size[1]} pixels are too few",
                "size",
                f"Use {least} x {least} at least",
            )
        if self.frame_size[0] * self.frame_size[1] > _MOST_PIXELS:
            raise GreytareError(
                f"{self.frame_size[0]} x {self.frame_size[1]} pixels are too many",
                "size",
                f"Use {_MOST_PIXELS / 1e6:.0f} megapixels at most",
            )
        for name in ("shutter_scatter_ev", "iris_scatter_ev"):
            if not 0.0 <= getattr(self, name) <= _MOST_SCATTER_EV:
                raise GreytareError(
                    f"{getattr(self, name)} EV can't be the scatter of an exposure",
                    name,
                    f"Use 0 to {_MOST_SCATTER_EV:g}",
                )
        for shot in self.shots:
            self.body.label(shot.iso)

    @property
    def frame_size(self) -> tuple[int, int]:
        """Width and height of the active area in pixels."""
        return self.size or (self.body.width, self.body.height)

    @property
    def written_modes(self) -> tuple[str, ...]:
        """Modes that the sheet names, whose truth is the answer."""
        return self.sheet_modes or self.modes

    @property
    def flash(self) -> bool:
        """Whether the light is flash."""
        return is_flash(self.modes[0])

    @property
    def isos(self) -> tuple[int, ...]:
        """ISO labels of the frames with light, in rising order."""
        return tuple(sorted({shot.iso for shot in self.shots if not shot.dark}))


def standard_series(
    body: Body,
    seed: int,
    *,
    labels: Sequence[int] = (100, 200, 400),
    mode: str | tuple[str, ...] = "spot",
    light: str | None = None,
    frames_per_label: int = 8,
    pairs: bool = False,
    darks: int = 1,
    aperture: str = "5.6",
    ev100: float | None = None,
    meter: HandMeter | None = None,
    size: tuple[int, int] | None = (480, 320),
    compression: str = "none",
    time_rule: str = "exact",
    shutter_scatter_ev: float = 0.0,
    iris_scatter_ev: float = 0.0,
) -> SeriesSpec:
    """Return a series bracketed by time at one aperture, from well below grey to above clip.

    For each label `frames_per_label` exposures (each twice with `pairs`) then, after all labels,
    `darks` frames a label with the lens cap on. Flash is bracketed by its power, metered anew for
    each frame. ev100: what the meter asks for at ISO 100 in the first mode; when left out, a tenth
    between 9.9 and 10.8 drawn from the seed, so that a display in tenths shows it exactly.
    """
    modes = (mode,) if isinstance(mode, str) else tuple(mode)
    _choice("mode", modes, MODES)
    if not labels:
        raise GreytareError("no ISO label is given", "labels", "Name at least one")
    if frames_per_label < 3:
        raise GreytareError(
            f"{frames_per_label} frames a label are too few", "frames_per_label", "Use 3 or more"
        )
    for name, number in (("frames_per_label", frames_per_label), ("darks", darks)):
        if not 0 <= number <= _MOST_FRAMES:
            raise GreytareError(
                f"{number} frames can't be made", name, f"Use {_MOST_FRAMES} at most"
            )
    for iso in labels:
        body.label(iso)
    meter = meter or HandMeter()
    flash = is_flash(modes[0])
    light = light or ("flash" if flash else "daylight")
    _choice("light", (light,), LIGHTS)
    spec = SeriesSpec(
        body=body,
        scene=Scene(luminance_cd_m2=1.0, light=light),
        shots=(),
        seed=seed,
        meter=meter,
        modes=modes,
        time_rule=time_rule,
        shutter_scatter_ev=shutter_scatter_ev,
        iris_scatter_ev=iris_scatter_ev,
        frame_readings=flash,
        size=size,
        compression=compression,
    )
    if ev100 is None:
        drawn = np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(_SCENE_KEY,)))
        ev100 = 6.0 if flash else 9.9 + float(drawn.integers(10)) / 10.0
    l_unit = metered_luminance_cd_m2(meter, modes[0], spec.scene.reflectance)
    spec = replace(spec, scene=replace(spec.scene, luminance_cd_m2=l_unit * 2.0**ev100))
    shots: list[Shot] = []
    for iso in labels:
        for placement in planned_placements(spec, iso, frames_per_label):
            make = _flash_shot if flash else _timed_shot
            shot = make(spec, iso, aperture, placement)
            shots += [shot, shot] if pairs else [shot]
    dark_time, dark_aperture = (FLASH_TIME, FLASH_APERTURE) if flash else ("1/125", aperture)
    shots += [
        Shot(iso=iso, time=dark_time, aperture=dark_aperture, dark=True)
        for iso in labels
        for _ in range(darks)
    ]
    return replace(spec, shots=tuple(shots))


def planned_placements(spec: SeriesSpec, iso: int, frames: int) -> tuple[float, ...]:
    """Return placements in stops: closer towards clip, then two frames above it (one of three).

    The two lie 1.2 stops over the first channel's clip, then 1.7 stops over the first or 1.1 over
    the last one's, whichever is more but never more than 2 over the first.
    """
    truth = channel_truth(spec.body, iso, spec.scene, spec.meter, spec.modes[0])
    headrooms = [channel.headroom_ev for channel in truth.values()]
    first, last = min(headrooms), max(headrooms)
    top = min(first + 2.0, max(first + 1.7, last + 1.1))
    over = [first + 1.2, top] if frames > 3 else [top]
    below = frames - len(over)
    steps = [i / max(1, below - 1) for i in range(below - 1, -1, -1)]
    return tuple([first - 0.33 - 6.33 * step**1.7 for step in steps] + over)


def _timed_shot(spec: SeriesSpec, iso: int, aperture: str, placement: float) -> Shot:
    ev = metered_ev100(spec.scene, spec.meter, spec.modes[0]) + math.log2(iso / 100.0)
    f_number = true_aperture(aperture, spec.aperture_rule)
    time_s = f_number**2 * 2.0 ** (placement - ev)
    return Shot(iso=iso, time=nearest_time_mark(time_s), aperture=aperture)


def _flash_shot(spec: SeriesSpec, iso: int, _aperture: str, placement: float) -> Shot:
    ev = metered_ev100(spec.scene, spec.meter, spec.modes[0])
    wanted = (
        2.0 * math.log2(true_aperture(FLASH_APERTURE, "exact")) + placement - math.log2(iso / 100.0)
    )
    return Shot(
        iso=iso,
        time=FLASH_TIME,
        aperture=FLASH_APERTURE,
        power_ev=round(round(wanted, 1) - ev, 9),
    )


def _choice(what: str, given: Iterable[str], known: Sequence[str]) -> None:
    for value in given:
        if value not in known:
            raise GreytareError(
                f"there is no {what} {value!r}", "", f"Use one of {', '.join(known)}", what
            )
