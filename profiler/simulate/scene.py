"""The lit card in front of the camera, seen by the handheld meter beside it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from profiler import standards
from profiler.exposure.modes import is_flash
from profiler.records import LIGHTS, MODES
from profiler.simulate.marks import FULL_STOP_MARKS


@dataclass(frozen=True, kw_only=True)
class Scene:
    """A card, its light, and what surrounds it in the frame.

    luminance_cd_m2: of the card's centre; for flash light the luminous exposure in cd s/m2.
    surround: luminance around the card as a part of the card's. card_x, card_y, card_width,
    card_height: centre and size as parts of the frame. vignetting_ev: loss from the centre to the
    corner. gradient_ev: gain from the left edge to the right one, none at the centre. glare: height
    of a bright spot on the card as a part of its luminance. veil: stray light as a part of the mean
    light in the frame. red_ev, blue_ev: the light's colour, as the sensor sees it, against green.
    """

    luminance_cd_m2: float
    reflectance: float = standards.GREY_REFLECTANCE.value
    light: str = "daylight"
    surround: float = 0.4
    card_x: float = 0.5
    card_y: float = 0.5
    card_width: float = 0.7
    card_height: float = 0.7
    vignetting_ev: float = 0.1
    gradient_ev: float = 0.0
    glare: float = 0.0
    veil: float = 0.0
    red_ev: float = 0.0
    blue_ev: float = 0.0

    def __post_init__(self) -> None:
        if not (self.luminance_cd_m2 > 0.0 and 0.0 < self.reflectance <= 1.0):
            raise ValueError("luminance must be above 0, reflectance above 0 and at most 1")
        if self.light not in LIGHTS:
            raise ValueError(f"light {self.light!r} is none of {', '.join(LIGHTS)}")

    @property
    def illuminance_lx(self) -> float:
        """Light on the card in lx, E = pi L/R for a matt card; for flash in lx s."""
        return math.pi * self.luminance_cd_m2 / self.reflectance

    def colour_ev(self, channel: str) -> float:
        """Return the stops that the light's colour adds to a channel."""
        return {"R": self.red_ev, "B": self.blue_ev}.get(channel, 0.0)


@dataclass(frozen=True, kw_only=True)
class HandMeter:
    """A handheld meter: identity, constants, and how far its readings are off.

    error_ev: added to every reading. resolution_ev: step of the display, 0 for an exact reading.
    bend_ev: how far its readings stray over its range, up at EV 5 and 17, down at EV 11.
    """

    make: str = "Sprig"
    model: str = "Lm-3"
    serial: str = "000731"
    k_cd_m2: float = standards.METER_K.value
    c_flat_lx: float = standards.METER_C_FLAT.value
    c_dome_lx: float = standards.METER_C_DOME.value
    error_ev: float = 0.0
    resolution_ev: float = 0.1
    bend_ev: float = 0.0

    def strays_ev(self, ev100: float) -> float:
        """Return how much more than the light's EV the meter shows on average."""
        return self.error_ev + self.bend_ev * math.cos(2.0 * math.pi * (ev100 - 5.0) / 12.0)


def metered_luminance_cd_m2(meter: HandMeter, mode: str, reflectance: float) -> float:
    """Return the card luminance in cd/m2 (flash: cd s/m2) for which N^2/t (flash: N^2) is 1.

    At ISO 100 for an error-free meter: K/100 reflected, R C/(100 pi) incident (ISO 2720:1974 via
    colour-hdri average_luminance, average_illuminance; L = R E/pi).
    """
    if mode not in MODES:
        raise ValueError(f"mode {mode!r} is none of {', '.join(MODES)}")
    if mode.endswith("spot"):
        return meter.k_cd_m2 / 100.0
    c_lx = meter.c_dome_lx if mode.endswith("dome") else meter.c_flat_lx
    return reflectance * c_lx / (100.0 * math.pi)


def metered_ev100(scene: Scene, meter: HandMeter, mode: str) -> float:
    """Return log2(N^2/t) (flash: log2(N^2)) that an error-free meter asks for at ISO 100, in EV."""
    return math.log2(
        scene.luminance_cd_m2 / metered_luminance_cd_m2(meter, mode, scene.reflectance)
    )


def metered_exposure_lx_s(scene: Scene, meter: HandMeter, mode: str, iso: float) -> float:
    """Return the focal-plane exposure in lx s when the camera is set as an error-free meter asks.

    H = q L t/N^2 = q K/S for a spot reading (ISO 12232:2006 via colour-hdri, q = 0.65).
    """
    l_unit = metered_luminance_cd_m2(meter, mode, scene.reflectance)
    return standards.Q_FACTOR.value * l_unit * 100.0 / iso


def reading_text(ev100: float, mode: str, resolution_ev: float) -> str:
    """Return what the meter shows: `EV 10.3`, or `f/11+2 ISO 100` for flash.

    ev100 holds the meter's error already; resolution 0 writes it with six decimals.
    """
    decimals = 6
    if resolution_ev > 0.0:
        ev100 = round(ev100 / resolution_ev) * resolution_ev
        decimals = next((d for d in range(5) if _is_whole(resolution_ev * 10**d)), 4)
    if not is_flash(mode):
        return f"EV {ev100:.{decimals}f}"
    lowest = 2.0 * math.log2(float(FULL_STOP_MARKS[0]))
    stop = math.floor(ev100 + 1e-6)
    tenths = round(max(0.0, ev100 - stop) * 10.0, max(0, decimals - 1))
    mark = FULL_STOP_MARKS[round(stop - lowest)]
    more = f"+{tenths:g}" if tenths > 0.0 else ""
    return f"f/{mark}{more} ISO 100"


def _is_whole(value: float) -> bool:
    return abs(value - round(value)) < 1e-9


@lru_cache(maxsize=1)
def relative_luminance(
    scene: Scene, first_row: int, rows: int, height: int, width: int
) -> NDArray[np.float32]:
    """Return the light on some rows of the active area as a part of the card centre's.

    Vignetting, gradient, glare, surroundings and veil as Scene describes them; shape (rows, width).
    The last one is kept, read-only, for all small frames of one scene have the same.
    """
    y = (np.arange(first_row, first_row + rows) + 0.5) / height
    x = (np.arange(width) + 0.5) / width
    down = np.exp2(-scene.vignetting_ev * 2.0 * (y - 0.5) ** 2).astype(np.float32)
    across = np.exp2(
        scene.gradient_ev * (x - 0.5) - scene.vignetting_ev * 2.0 * (x - 0.5) ** 2
    ).astype(np.float32)
    on_card_y = np.abs(y - scene.card_y) <= 0.5 * scene.card_height
    on_card_x = np.abs(x - scene.card_x) <= 0.5 * scene.card_width
    light = np.where(
        on_card_y[:, None] & on_card_x[None, :], np.float32(1.0), np.float32(scene.surround)
    )
    light *= down[:, None]
    light *= across[None, :]
    if scene.glare > 0.0:
        spot_y = np.exp(-(((y - scene.card_y + 0.08) / 0.12) ** 2))
        spot_x = np.exp(-(((x - scene.card_x - 0.10) / 0.12) ** 2))
        light += (scene.glare * spot_y[:, None] * spot_x[None, :]).astype(np.float32)
    if scene.veil > 0.0:
        light += np.float32(veil_light(scene))
    light.setflags(write=False)
    return light


def veil_light(scene: Scene) -> float:
    """Return the stray light in every pixel as a part of the card centre's luminance."""
    card = min(1.0, scene.card_width * scene.card_height)
    return scene.veil * (card + (1.0 - card) * scene.surround)
