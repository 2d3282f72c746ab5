"""What a profile holds: a result per ISO label and mode, its budget, what it rests on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final, Literal

from profiler.records import Estimate, Flag, Linearity

FORMAT: Final = "greytare-profile"
VERSION: Final = 2


@dataclass(frozen=True, kw_only=True)
class Span:
    """A number with its 95 % interval low..high."""

    value: float
    low: float
    high: float
    lower_bound: bool = False

    def __post_init__(self) -> None:
        if not self.low <= self.value <= self.high:
            raise ValueError(f"{self.low} .. {self.high} doesn't hold {self.value}")


class Source(StrEnum):
    """What an uncertainty comes from; the values stand in profiles and never change."""

    FIT_SCATTER = "fit scatter"
    BLACK = "black"
    CLIP = "clip"
    STRAIGHTNESS = "straightness"
    METER_REPEATABILITY = "meter repeatability"
    METER_RESOLUTION = "meter resolution"
    METER_LINEARITY = "meter linearity"
    LIGHT_DRIFT = "light drift"
    APERTURE_MARK = "aperture mark"
    CARD_REFLECTANCE = "card reflectance"
    TIME_RULE = "time rule"
    PATCH_GRADIENT = "patch gradient"
    ROUNDING = "rounding to codes"
    CLIP_HEADROOM = "clip headroom"
    METER_CONSTANT = "meter constant"
    LENS_TRANSMITTANCE = "lens transmittance"
    PLACE_IN_FRAME = "place in the frame"
    # of an answer on set and of a fleet; no profile holds them
    CHANNEL_FIT = "fit of the channel"
    NOISE = "noise at the floor"
    READING = "today's reading"
    READING_STEP = "today's display step"
    READING_LINEARITY = "linearity of today's meter"
    SHUTTER = "today's shutter"
    IRIS = "today's iris"
    LENS = "lens against the calibrated one"
    BETWEEN_LABELS = "between ISO labels"
    METER_CALIBRATION = "meter calibration"
    ONE_READING = "one reading"


METER_SOURCES: Final = (
    Source.METER_REPEATABILITY,
    Source.METER_RESOLUTION,
    Source.METER_LINEARITY,
)
"""Sources that readings bring; linearity only where the meter's file holds it."""


@dataclass(frozen=True, kw_only=True)
class BudgetRow:
    """One source of uncertainty: type A or B, its distribution and what it adds (all in EV).

    source: a Source, or the name that a later version of greytare gives.
    half_width_ev: of a rectangular source; u_ev: standard uncertainty of the source;
    contribution_ev = |sensitivity| * u_ev; dof null means infinite.
    """

    source: str
    type: Literal["A", "B"]
    distribution: Literal["normal", "t", "rectangular", "triangular", "arcsine"]
    half_width_ev: float | None
    u_ev: float
    sensitivity: float
    dof: float | None
    contribution_ev: float
    basis: str


@dataclass(frozen=True, kw_only=True)
class Footroom:
    """Stops from the metered level down to where the signal-to-noise ratio falls to 1, 10, 40."""

    snr1: Estimate
    snr10: Estimate
    snr40: Estimate
    channel: str


@dataclass(frozen=True, kw_only=True)
class NoiseProfile:
    """DNG NoiseProfile pair: N(x) = sqrt(scale x + offset), x from 0 at black to 1 at clip."""

    scale: float
    offset: float


@dataclass(frozen=True, kw_only=True)
class EmvaRow:
    """The standard's own estimates (EMVA 1288), beside the weighted ones: K, noise, DR, linearity.

    dynamic_range as a ratio; linearity error in percent, frame errors included.
    """

    gain_dn_per_e: float
    dark_noise_dn: float
    dark_noise_e: float
    dynamic_range: float
    linearity_low_percent: float
    linearity_high_percent: float


@dataclass(frozen=True, kw_only=True)
class Channel:
    """One colour channel at one ISO label; levels in DN, metered_dn above black.

    full_well_e: electrons at clip; dynamic_range_ev: stops from clip down to SNR 1.
    transfer_points: signal above black (DN) with temporal variance (DN^2), once per equal pair.
    """

    black_dn: float
    black_u_dn: float
    clip_dn: float
    clip_u_dn: float
    clip_seen: bool
    metered_dn: float
    metered_u_ev: float
    headroom_ev: float
    headroom_u_ev: float
    gain_e_per_dn: float | None = None
    gain_u_e_per_dn: float | None = None
    read_noise_e: float | None = None
    read_noise_u_e: float | None = None
    read_noise_dn: float | None = None
    full_well_e: float | None = None
    dynamic_range_ev: float | None = None
    noise_profile: NoiseProfile | None = None
    emva: EmvaRow | None = None
    transfer_points: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, kw_only=True)
class ResultFrame:
    """One frame as a result saw it; residual null where no channel of it lay on the line."""

    file: str
    time_s: float | None
    aperture: float | None
    placement_ev: float
    residual_ev: float | None
    used: bool
    level_dn: Mapping[str, float]
    flags: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class TimeRule:
    """Which rule turned marked times into seconds, and the rms residual under each (EV)."""

    used: Literal["exact", "as-marked"]
    rms_exact_ev: float
    rms_as_marked_ev: float


@dataclass(frozen=True, kw_only=True)
class AtAperture:
    """What a result is worth at the one aperture of its frames: the iris's own error cancels there.

    aperture: as marked; the values are the result's own, their intervals narrower.
    """

    aperture: float
    offset_ev: Estimate
    exposure_index: Span
    clip_headroom_ev: Estimate
    effective_dof: float | None


@dataclass(frozen=True, kw_only=True)
class Result:
    """What one ISO label does under one meter mode in one light.

    measured_by_t_stop: T-stops placed the frames, so that no iris mark stands in the budget.
    The intervals hold at any aperture of the band; at_measured_aperture holds those for the one at
    which all frames were taken, null where they were several, where T-stops placed the frames, or
    in an older profile. budget: of offset and headroom. saturation_budget: of the saturation speed,
    empty in a profile that was made without one, whose interval is then too narrow.
    """

    iso: int
    mode: str
    light: str
    aim_stops: float
    aperture_band: tuple[float, float]
    offset_ev: Estimate
    exposure_index: Span
    saturation_speed: Span
    clip_headroom_ev: Estimate
    linear_headroom_ev: Estimate
    footroom_ev: Footroom | None
    first_to_clip: str
    channels: Mapping[str, Channel]
    budget: tuple[BudgetRow, ...]
    effective_dof: float | None
    offset_headroom_correlation: float
    frame_scatter_ev: float
    time_rule: TimeRule
    black_source: str
    black_candidates_dn: Mapping[str, Mapping[str, float]]
    frames: tuple[ResultFrame, ...]
    flags: tuple[Flag, ...]
    saturation_budget: tuple[BudgetRow, ...] = ()
    measured_by_t_stop: bool = False
    at_measured_aperture: AtAperture | None = None


@dataclass(frozen=True, kw_only=True)
class ShutterRow:
    """A marked time: how much more light than stated its frames got on average (EV)."""

    time_s: float
    deviation_ev: float
    u_ev: float
    frames: int


@dataclass(frozen=True, kw_only=True)
class IsoRow:
    """One ISO label against the next lower one, at one and the same exposure.

    step_ev: rise of the level where asked_ev was asked; digital: "push", "pull" or "".
    """

    iso: int
    below: int
    asked_ev: float
    step_ev: float
    u_ev: float
    headroom_change_ev: float | None
    digital: str
    dual_gain: bool


@dataclass(frozen=True, kw_only=True)
class ModeRow:
    """Two modes on one card at one ISO label: offset of `mode` minus offset of `against`.

    expected_ev: what the meter's constants and an 18 % card alone would give; left_ev: the rest.
    """

    iso: int
    mode: str
    against: str
    gap_ev: float
    u_ev: float
    expected_ev: float
    left_ev: float


@dataclass(frozen=True, kw_only=True)
class CameraIdentity:
    """Body; the serial is text, leading zeros kept."""

    make: str = ""
    model: str = ""
    serial: str = ""


@dataclass(frozen=True, kw_only=True)
class LensIdentity:
    """Lens as the file names it."""

    model: str = ""


@dataclass(frozen=True, kw_only=True)
class MeterIdentity:
    """Meter with the constants that its readings were taken by, and by what they were corrected."""

    make: str = ""
    model: str = ""
    serial: str = ""
    k_cd_m2: float
    c_flat_lx: float
    c_dome_lx: float
    repeatability_ev: float
    resolution_ev: float | None
    linearity: Mapping[str, Linearity] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class SourceFrame:
    """A file that the profile rests on."""

    file: str
    sha256: str


@dataclass(frozen=True, kw_only=True)
class Provenance:
    """Where the numbers come from: software, times, files, patch, readings as typed.

    created: when the profile was fitted (UTC). taken: when its first frame was shot, by the
    camera's own clock, ISO 8601 without a zone; empty where no frame tells it.
    """

    software: str
    created: str
    taken: str = ""
    frames: tuple[SourceFrame, ...]
    patch: str = ""
    sheet: str = ""
    sheet_sha256: str = ""
    readings: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class LensMark:
    """What a lens gives at one mark of its iris.

    light_ev: how much more light than the calibrated lens at its aperture, both by their marks.
    iris_ev: how much more than this lens's own light loss explains, none at the mark that the loss
    was found at. across_ev, down_ev: change of light over the patch from its left to its right
    edge, from the upper to the lower, beyond the calibrated lens's: vignetting; None where only
    means are known.
    """

    aperture: float
    light_ev: Estimate
    iris_ev: Estimate
    across_ev: Estimate | None
    down_ev: Estimate | None
    frames: int


@dataclass(frozen=True, kw_only=True)
class LensLight:
    """One lens against the calibrated one; loss_ev: stops that it loses more, at at_aperture."""

    model: str
    loss_ev: Estimate
    at_aperture: float
    marks: tuple[LensMark, ...]


@dataclass(frozen=True, kw_only=True)
class LensesData:
    """The lenses of one body, against the lens and aperture that its profile was made with."""

    format: Literal["greytare-lenses"] = "greytare-lenses"
    version: Literal[1] = 1
    camera: CameraIdentity
    calibrated: LensIdentity
    calibrated_aperture: float
    lenses: tuple[LensLight, ...]
    frame_scatter_ev: float
    drift_ev: Estimate
    provenance: Provenance


@dataclass(frozen=True, kw_only=True)
class ProfileData:
    """All results for one body, lens and meter."""

    format: Literal["greytare-profile"] = FORMAT
    version: Literal[2] = VERSION
    camera: CameraIdentity
    lens: LensIdentity
    meter: MeterIdentity
    results: tuple[Result, ...]
    shutter: tuple[ShutterRow, ...] = ()
    iso_steps: tuple[IsoRow, ...] = ()
    modes: tuple[ModeRow, ...] = ()
    provenance: Provenance
