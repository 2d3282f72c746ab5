"""What is known before the fit: tags, measured frames, the meter, an estimate, a flag."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

from profiler import standards

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

MODES: Final = (
    "incident-dome",
    "incident-flat",
    "spot",
    "flash-dome",
    "flash-flat",
    "flash-spot",
)
LIGHTS: Final = ("daylight", "tungsten", "led", "fluorescent", "flash", "other")
CHANNELS: Final = ("R", "G1", "G", "G2", "B", "Y")


@dataclass(frozen=True, kw_only=True)
class Flag:
    """A named doubt about a result, with its size; the advice stands in profiler.flags."""

    name: str
    size: float
    unit: str = "EV"
    where: str = ""
    detail: str = ""


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """A number with its standard uncertainty u and its 95 % interval low..high."""

    value: float
    u: float
    low: float
    high: float
    lower_bound: bool = False

    def __post_init__(self) -> None:
        if not self.u >= 0.0:
            raise ValueError(f"u must be zero or more, not {self.u}")
        if not self.low <= self.value <= self.high:
            raise ValueError(f"{self.low} .. {self.high} doesn't hold {self.value}")


def moved(estimate: Estimate, by: float) -> Estimate:
    """Return an estimate moved by an exact number, with its interval."""
    return replace(
        estimate, value=estimate.value + by, low=estimate.low + by, high=estimate.high + by
    )


def opposite(estimate: Estimate) -> Estimate:
    """Return the estimate of the opposite, with its interval turned round."""
    return replace(
        estimate, value=0.0 - estimate.value, low=0.0 - estimate.high, high=0.0 - estimate.low
    )


@dataclass(frozen=True, kw_only=True)
class Linearity:
    """How a meter's readings stray from the light over its range, against their own mean.

    level_ev100: what the meter shows, rising; deviation_ev: how much more than its mean it shows
    there; u_ev: its standard uncertainty. All of one length, two or more.
    """

    level_ev100: tuple[float, ...]
    deviation_ev: tuple[float, ...]
    u_ev: tuple[float, ...]

    def __post_init__(self) -> None:
        levels = self.level_ev100
        if not len(levels) == len(self.deviation_ev) == len(self.u_ev) >= 2:
            raise ValueError("level_ev100, deviation_ev and u_ev must be of one length, 2 or more")
        if any(a >= b for a, b in pairwise(levels)):
            raise ValueError("level_ev100 must rise")
        if not all(u >= 0.0 for u in self.u_ev):
            raise ValueError("u_ev must be zero or more")


@dataclass(frozen=True, kw_only=True)
class Meter:
    """A handheld meter: identity, constants K (cd/m2) and C (lx), repeatability and step (EV).

    resolution_ev: step of the display; None where it isn't stated, so that the readings tell it.
    linearity: mode -> how it strays over its range, none where that wasn't measured.
    """

    make: str = ""
    model: str = ""
    serial: str = ""
    k_cd_m2: float = standards.METER_K.value
    c_flat_lx: float = standards.METER_C_FLAT.value
    c_dome_lx: float = standards.METER_C_DOME.value
    repeatability_ev: float = 0.1
    resolution_ev: float | None = None
    linearity: Mapping[str, Linearity] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Tag:
    """One metadata field: the value that counts, who said so, and what the others said."""

    value: Any
    source: str
    others: tuple[tuple[str, Any], ...] = ()


@dataclass(frozen=True, kw_only=True)
class FrameTags:
    """What the file says of itself; None where no source knows the field."""

    make: Tag | None = None
    model: Tag | None = None
    serial: Tag | None = None
    lens: Tag | None = None
    iso: Tag | None = None
    time_s: Tag | None = None
    aperture: Tag | None = None
    taken_at: Tag | None = None
    bits: Tag | None = None
    drive: Tag | None = None


@dataclass(frozen=True, kw_only=True)
class Masked:
    """Level of the masked border pixels of one channel, in DN.

    cut_share: share of pixels on the lowest code, at which their noise was cut off; mean and sd
    are then those of the noise before (see fitting.cut), unless more than
    standards.CUT_MOST_SHARE was cut; 0 where nothing was.
    """

    n: int
    mean_dn: float
    sd_dn: float
    cut_share: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Mosaic:
    """Raw values of one frame as the sensor gave them: no black taken off, no scaling.

    values_dn: (height, width) visible area, uint16. cfa: channel names of one period, aligned to
    values_dn[0, 0]; R, G1, G2, B for Bayer, R, G, B for longer periods, Y for monochrome.
    """

    values_dn: NDArray[np.uint16]
    cfa: tuple[tuple[str, ...], ...]
    black_tag_dn: Mapping[str, float] = field(default_factory=dict)
    white_tag_dn: Mapping[str, float] = field(default_factory=dict)
    masked: Mapping[str, Masked] = field(default_factory=dict)
    flags: tuple[Flag, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Patch:
    """The measured rectangle, in pixels of the visible area; aligned to the CFA period."""

    x: int
    y: int
    width: int
    height: int


@dataclass(frozen=True, kw_only=True)
class Place:
    """Where a patch lies: its middle, width and height as parts of the visible frame's."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, kw_only=True)
class ChannelMeasure:
    """Statistics of one channel of one frame inside the patch; levels in DN, black not taken off.

    top_dn: highest code that holds pixels, a few odd ones passed over; top_share: share of pixels
    on it; low_edge_dn, median_dn, high_edge_dn: 1, 50 and 99 % points. gradient: change of level
    across the patch, corner to corner, as a part of the mean; variance_dn2: spatial variance (ddof
    1); temporal_variance_dn2: from an equal pair, flicker between the two taken out, None without a
    pair. neighbour_variance_dn2: half the mean squared difference of next neighbours of the same
    channel; below variance_dn2 of a clean sensor only where neighbours are correlated (noise
    reduction).
    gap_period: smallest k > 1 for which only every k-th code is in use, else 1 (digital push);
    gap_share: share of codes left unused between the used ones. code_step: power of two that codes
    are multiples of apart (4 for 12 bits in 14), 0 where too few are in use to tell.
    slope_across_dn, slope_down_dn: change of level from the left edge of the patch to the right
    one, from the upper to the lower; None where only the gradient is known. bottom_dn: lowest code
    that isn't dead, None where unknown; bottom_share: share of pixels on it.
    """

    n: int
    mean_dn: float
    variance_dn2: float
    neighbour_variance_dn2: float
    gradient: float
    top_dn: float
    top_share: float
    low_edge_dn: float
    median_dn: float
    high_edge_dn: float
    gap_period: int = 1
    gap_share: float = 0.0
    row_banding: float = 0.0
    temporal_variance_dn2: float | None = None
    pair_n: int = 0
    slope_across_dn: float | None = None
    slope_down_dn: float | None = None
    bottom_dn: float | None = None
    bottom_share: float = 0.0
    code_step: int = 0


@dataclass(frozen=True, kw_only=True)
class FrameMeasure:
    """One measured frame: what the file says of itself and the statistics of its patch.

    file: name below the series folder; pair: name of the equal frame that gave the temporal
    variance, empty without one; place: where the patch lies if it was found by itself, None where
    it was given by hand (the meter is taken to have read there). cfa: letters of the colour filter
    array row by row from the first pixel, "RG/GB"; empty where it isn't known.
    """

    file: str
    sha256: str
    tags: FrameTags
    channels: Mapping[str, ChannelMeasure]
    black_tag_dn: Mapping[str, float] = field(default_factory=dict)
    white_tag_dn: Mapping[str, float] = field(default_factory=dict)
    masked: Mapping[str, Masked] = field(default_factory=dict)
    pair: str = ""
    place: Place | None = None
    flags: tuple[Flag, ...] = ()
    cfa: str = ""


@dataclass(frozen=True, kw_only=True)
class Measurement:
    """All measured frames of a series, with the patch they share ("" for a published table).

    decoded: how many frames had to be decoded; the others came from the cache. lost: a flag for
    each frame that the decoder crashed or hung over, which isn't among the frames.
    """

    frames: tuple[FrameMeasure, ...]
    patch: str
    decoded: int = 0
    lost: tuple[Flag, ...] = ()
