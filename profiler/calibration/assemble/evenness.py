"""How even and how steady the light on the patch was, black taken off."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from profiler import standards
from profiler.calibration.fit.labels import LabelFit
from profiler.calibration.groups import Group
from profiler.records import ChannelMeasure, Place

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, kw_only=True)
class Evenness:
    """Slope of the light over the patch, as a part of its level from edge to edge.

    across, down: what all frames share, signed; change: most that the slope of a frame differs
    from it beyond chance; banding: most that rows differ (see frames.patch.row_banding).
    """

    across: float
    down: float
    change: float
    banding: float

    @property
    def pulsing(self) -> bool:
        """Whether slope or rows change from frame to frame more than a steady light's."""
        bands = self.banding > standards.BANDING_FRACTION
        return bands or self.change > standards.GRADIENT_CHANGE

    def reading_ev(self, place: Place | None) -> float:
        """Return how far, in EV, the light on the patch may be from that which the meter saw.

        The meter may have read any part of the inner half of the patch. A patch that was found by
        itself may besides lie off the frame's middle, where the meter is taken to have pointed
        within standards.POINTING_PART of the frame.
        """
        inside = 0.25 * (abs(self.across) + abs(self.down))
        if place is None:
            return inside / math.log(2.0)
        across, down = self.across / place.width, self.down / place.height  # over the whole frame
        off = abs((place.x - 0.5) * across + (place.y - 0.5) * down)
        pointing = standards.POINTING_PART * (abs(across) + abs(down))
        return (max(inside, pointing) + off) / math.log(2.0)


def find_evenness(group: Group, fit: LabelFit) -> Evenness:
    """Return how even the light was in the frames whose level lies on the straight line."""
    on_line = np.isfinite(fit.response.cell_residual_ev)
    across, down, u, banding = [], [], [], [0.0]
    for i, frame in enumerate(group.frames):
        for k, name in enumerate(fit.channels):
            cell = frame.channels[name]
            signal = cell.mean_dn - float(fit.response.black_dn[k])
            if not on_line[i, k] or signal <= 0.0 or cell.n < 2 or cell.top_share >= 0.05:
                continue
            part = _slopes(cell)
            black_u = float(np.hypot(*part)) / signal * float(fit.black.u_dn[k])
            across.append((i, k, part[0] / signal))
            down.append((i, k, part[1] / signal))
            u.append(math.hypot(_slope_u_dn(cell), black_u) / signal)
            if _banding_u_dn(cell) < 0.3 * standards.BANDING_FRACTION * signal:
                banding.append(cell.row_banding * cell.mean_dn / signal)
    if not u:
        return Evenness(across=0.0, down=0.0, change=0.0, banding=0.0)
    shape = (len(group.frames), len(fit.channels))
    weight = _table(shape, across, [1.0 / max(each, 1e-6) ** 2 for each in u])
    values = [_table(shape, part, [value for _, _, value in part]) for part in (across, down)]
    common = [float(np.sum(v * weight) / np.sum(weight)) for v in values]
    return Evenness(
        across=common[0], down=common[1], change=_change(values, weight), banding=max(banding)
    )


def _slopes(cell: ChannelMeasure) -> tuple[float, float]:
    """Slopes across and down in DN; of an older table only the gradient is known, its sign isn't"""
    if cell.slope_across_dn is None or cell.slope_down_dn is None:
        return cell.gradient * cell.mean_dn, 0.0
    return cell.slope_across_dn, cell.slope_down_dn


def _slope_u_dn(cell: ChannelMeasure) -> float:
    """Noise of a slope from edge to edge: sigma sqrt(12/n)."""
    noise = max(min(cell.neighbour_variance_dn2, cell.variance_dn2), 0.0)
    return math.sqrt(12.0 * noise / cell.n)


def _banding_u_dn(cell: ChannelMeasure) -> float:
    """What chance leaves of row banding, for a square patch: sigma n^(-1/4) (2/rows)^(1/4)."""
    rows = math.sqrt(cell.n)
    return math.sqrt(cell.neighbour_variance_dn2 / rows * math.sqrt(2.0 / rows))


def _table(
    shape: tuple[int, int], at: list[tuple[int, int, float]], values: list[float]
) -> NDArray[np.float64]:
    """Values (frames, channels), zero where a cell isn't on the line."""
    out = np.zeros(shape)
    for (i, k, _), value in zip(at, values, strict=True):
        out[i, k] = value
    return out


def _change(values: list[NDArray[np.float64]], weight: NDArray[np.float64]) -> float:
    """Most that two frames differ in slope beyond chance; each channel has a slope of its own.

    A coloured side light isn't a pulsing one. Significant from standards.PULSE_SIGMAS.
    """
    total = weight.sum(axis=1)
    seen = total > 0.0
    if np.count_nonzero(seen) < 2:
        return 0.0
    u = 1.0 / np.sqrt(total[seen])
    change = 0.0
    for value in values:
        own = np.sum(value * weight, axis=0) / np.maximum(weight.sum(axis=0), 1e-30)
        apart = np.sum((value - own) * weight, axis=1)[seen] / total[seen]
        order = np.argsort(u)
        steady = float(np.median(apart[order[: max(2, order.size // 2)]]))
        beyond = np.abs(apart - steady) - standards.PULSE_SIGMAS * u
        if np.any(beyond > 0.0):
            change += float(np.max(np.abs(apart - steady)[beyond > 0.0]))
    return change
