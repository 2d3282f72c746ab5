"""One row of the fleet's table: a result with who, what and when."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields
from operator import attrgetter
from typing import Any, Final

QUANTITIES: Final = (
    "offset_ev",
    "clip_headroom_ev",
    "linear_headroom_ev",
    "footroom_snr1_ev",
    "footroom_snr10_ev",
    "footroom_snr40_ev",
)
"""Numbers of a row that have an uncertainty; each has four columns."""


@dataclass(frozen=True, kw_only=True)
class Value:
    """A quantity of a row in EV: value, standard uncertainty, 95 % interval, degrees of freedom."""

    value: float
    u: float
    low: float
    high: float
    dof: float
    lower_bound: bool

    @property
    def expanded(self) -> float:
        """U: half of the 95 % interval, in EV."""
        return 0.5 * (self.high - self.low)


def known_as(serial: str, tag: str, series: str) -> str:
    """Return what names a body of its make and model: its serial, else its tag or its series."""
    return serial or f"tag {tag or series}"


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """One result of one profile. Identity is text; numbers in EV; None where not measured.

    date: when it was shot, ISO 8601, empty where nobody knows. duplicate_of: the series that holds
    the same frames and counts instead. stale: why its files couldn't be reached at the last run.

    meter_constant: K in cd/m2 or C in lx, whichever the mode uses. shared_...: what parts of u come
    from the meter's repeatability, its step, its calibration, the card (standard uncertainties).
    """

    asset_tag: str
    camera_make: str
    camera_model: str
    camera_serial: str
    lens_model: str
    meter_make: str
    meter_model: str
    meter_serial: str
    mode: str
    light: str
    iso: int
    date: str
    state: str
    session: str
    card: str
    series: str
    aim_stops: float
    offset_ev: float
    offset_u_ev: float
    offset_low_ev: float
    offset_high_ev: float
    exposure_index: float
    exposure_index_low: float
    exposure_index_high: float
    saturation_speed: float
    saturation_speed_low: float
    saturation_speed_high: float
    clip_headroom_ev: float
    clip_headroom_u_ev: float
    clip_headroom_low_ev: float
    clip_headroom_high_ev: float
    lower_bound: bool
    linear_headroom_ev: float
    linear_headroom_u_ev: float
    linear_headroom_low_ev: float
    linear_headroom_high_ev: float
    linear_lower_bound: bool
    footroom_snr1_ev: float | None
    footroom_snr1_u_ev: float | None
    footroom_snr1_low_ev: float | None
    footroom_snr1_high_ev: float | None
    footroom_snr10_ev: float | None
    footroom_snr10_u_ev: float | None
    footroom_snr10_low_ev: float | None
    footroom_snr10_high_ev: float | None
    footroom_snr40_ev: float | None
    footroom_snr40_u_ev: float | None
    footroom_snr40_low_ev: float | None
    footroom_snr40_high_ev: float | None
    first_to_clip: str
    effective_dof: float | None
    frame_scatter_ev: float
    frames: int
    meter_constant: float
    shared_repeatability_ev: float
    shared_resolution_ev: float
    shared_calibration_ev: float
    shared_card_ev: float
    flags: str
    meter_certificate: str = ""
    meter_due: str = ""
    duplicate_of: str = ""
    stale: str = ""

    @property
    def body(self) -> tuple[str, str, str]:
        """Which body it is: make, model, serial, or its tag or series where it has no serial."""
        name = known_as(self.camera_serial, self.asset_tag, self.series)
        return (self.camera_make, self.camera_model, name)

    @property
    def doubts(self) -> list[str]:
        """Names of the flags, then of what the lab's own records cast doubt on."""
        return [*(name for name in self.flags.split(";") if name), *self.own_doubts]

    @property
    def own_doubts(self) -> list[str]:
        """Names of what the lab's own records cast doubt on."""
        own = {
            "undated": not self.date,
            "meter-certificate-expired": self.certificate_expired,
            "stale": bool(self.stale),
            "duplicate": bool(self.duplicate_of),
        }
        return [name for name, holds in own.items() if holds]

    @property
    def certificate_expired(self) -> bool:
        """Whether the meter's certificate had run out when the series was shot."""
        return bool(self.meter_due) and self.date > self.meter_due

    @property
    def case(self) -> tuple[str, ...]:
        """What has to be alike for two results to be comparable: lens, mode, light, ISO."""
        return (self.lens_model, self.mode, self.light, f"{self.iso:07d}")

    @property
    def meter(self) -> tuple[str, str, str] | None:
        """Which meter it is; None where it has no serial, so that nobody can tell."""
        if not self.meter_serial:
            return None
        return (self.meter_make, self.meter_model, self.meter_serial)

    def value(self, quantity: str) -> Value | None:
        """Return one of QUANTITIES, None where it wasn't measured; ValueError for another name."""
        if quantity not in QUANTITIES:
            raise ValueError(f"{quantity!r} is none of {', '.join(QUANTITIES)}")
        stem = quantity.removesuffix("_ev")
        value = getattr(self, quantity)
        if value is None:
            return None
        bound = quantity in ("offset_ev", "clip_headroom_ev") and self.lower_bound
        bound = bound or (quantity == "linear_headroom_ev" and self.linear_lower_bound)
        return Value(
            value=value,
            u=getattr(self, f"{stem}_u_ev"),
            low=getattr(self, f"{stem}_low_ev"),
            high=getattr(self, f"{stem}_high_ev"),
            dof=math.inf if self.effective_dof is None else self.effective_dof,
            lower_bound=bound,
        )


KINDS: Final[Mapping[str, str]] = {field.name: str(field.type) for field in fields(Row)}
"""Column -> `str`, `int`, `float`, `float | None` or `bool`."""
COLUMNS: Final = tuple(KINDS)
IDENTITY: Final = COLUMNS[: COLUMNS.index("aim_stops")]
order: Final[Callable[[Row], tuple[Any, ...]]] = attrgetter(*IDENTITY)
"""Return the sort key of a row: its identity, column by column."""


def sorted_rows(rows: Sequence[Row]) -> list[Row]:
    """Return the rows in the order of the table."""
    return sorted(rows, key=order)
