"""How straight the line is, from channels of unlike levels in one frame.

    level_ic = black_c + metered_c 2^(placement_i + error_i) (1 - part * signal_ic / span_c)

A frame's own error is shared by its channels and drops out of their differences, so a curved
response shows far below the scatter of the shutter.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from profiler import standards

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from profiler.calibration.fit.response import LineData, ResponseFit

_LN2 = math.log(2.0)


@dataclass(frozen=True, kw_only=True)
class Curvature:
    """Part by which the response falls short at clip, with its standard uncertainty.

    u is infinite where the channels can't tell. middle: where the frames lie on average that set
    the line, as a part of the span.
    """

    part: float
    u: float
    middle: float

    @property
    def seen(self) -> bool:
        """Whether it is more than noise, and more than a straight line may hide."""
        return self.part > max(standards.STRAIGHT_WITHIN, 4.0 * self.u)


def find_curvature(data: LineData, fit: ResponseFit, span_dn: NDArray[np.float64]) -> Curvature:
    """Return the curvature of one label; span_dn (c,): black to clip."""
    signal = data.level_dn - fit.black_dn
    use = data.use & fit.kept[:, None] & (signal > 0.0) & np.isfinite(fit.cell_residual_ev)
    if not use.any():
        return Curvature(part=0.0, u=math.inf, middle=0.0)
    part = np.where(use, signal / span_dn, 0.0)
    # a cell's residual counts by its own noise and by what black leaves in doubt
    black_u = np.sqrt(np.diag(fit.covariance)[: span_dn.size])
    u = np.hypot(data.level_u_dn, black_u) / (np.where(use, signal, 1.0) * _LN2)
    weight = np.where(use, 1.0 / u**2, 0.0)
    middle = float(np.sum(np.where(use, part, 0.0))) / int(use.sum())

    def without_frames(values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Values less the weighted mean of their frame."""
        total = np.maximum(weight.sum(axis=1, keepdims=True), 1e-300)
        mean = (weight * values).sum(axis=1, keepdims=True) / total
        return np.asarray(values - mean)

    # what is left beside each channel's own level
    column = without_frames(part)
    levels = [
        without_frames(np.where(use, k == np.arange(span_dn.size), 0.0))
        for k in range(span_dn.size)
    ]
    design = np.stack([-column / _LN2, *levels[1:]], axis=-1)[use]
    root = np.sqrt(weight[use])
    value = without_frames(np.where(use, fit.cell_residual_ev, 0.0))[use]
    normal = (design * root[:, None]).T @ (design * root[:, None])
    target = (design * root[:, None]).T @ (value * root)
    if design.shape[0] < design.shape[1] + 2 or np.linalg.cond(normal) > 1e12:
        return Curvature(part=0.0, u=math.inf, middle=middle)
    found = np.linalg.solve(normal, target)
    rest = (value - design @ found) * root
    excess = max(1.0, float(np.sum(rest**2)) / max(design.shape[0] - design.shape[1], 1))
    variance = float(np.linalg.inv(normal)[0, 0]) * excess
    return Curvature(part=float(found[0]), u=math.sqrt(variance), middle=middle)
