"""Where the response leaves the straight line before it clips."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from profiler import standards
from profiler.calibration.fit.response import LineData, ResponseFit, deviations, fit_lines

if TYPE_CHECKING:
    from numpy.typing import NDArray

_EVIDENCE = 16.0  # fall of chi-squared that a bend must bring: 4 standard deviations


@dataclass(frozen=True, kw_only=True)
class Bend:
    """End of the straight line, as parts of the span from black to clip.

    found: a bend was seen; begin: where it begins; limit: where it reaches
    standards.BEND_FRACTION; checked: highest part at which the line was seen to hold.
    """

    found: bool
    begin: float
    limit: float
    checked: float


def find_bend(data: LineData, span_dn: NDArray[np.float64], clear: NDArray[np.bool_]) -> Bend:
    """Return the end of the straight line of one ISO label.

    span_dn (c,): black to clip per channel; clear (n, c): cells that don't touch clip. The line
    comes from cells below standards.TRUST_FRACTION; the frame errors it finds there carry over
    to the channels of the same frame that lie higher. Above it a hinge is fitted, where signal
    falls short by slope * (part - begin).
    """
    part = (data.level_dn - data.black_dn) / span_dn
    low = data.use & (part <= standards.TRUST_FRACTION)
    checked = float(np.max(part[clear], initial=0.0))
    # a channel too bright or too dark for the low part has no say
    fewest = np.where(np.isfinite(data.black_u_dn), 1, 2)
    told = low.sum(axis=0) >= fewest
    if np.any(low[:, told], axis=1).sum() < 3:
        return Bend(found=False, begin=1.0, limit=1.0, checked=checked)
    if not told.all():
        data, part, low, clear = _only(data, told), part[:, told], low[:, told], clear[:, told]
    line: ResponseFit = fit_lines([replace(data, use=low)])[0]
    log_metered = np.log2(line.metered_dn)
    high = clear & (part > standards.TRUST_FRACTION)
    high[list(line.slips)] = False
    if not high.any():
        return Bend(found=False, begin=1.0, limit=1.0, checked=checked)
    own, own_u, _ = deviations(replace(data, use=low), line.black_dn, log_metered)
    error = np.where(np.isfinite(own), own, 0.0)
    alone = max(line.scatter_ev, standards.SHUTTER_SCATTER_EV)
    error_u = np.where(np.isfinite(own), np.minimum(own_u, alone), alone)
    rows, columns = np.nonzero(high)
    expected = np.exp2(log_metered[columns] + data.placement_ev[rows] + error[rows])
    short = 1.0 - (data.level_dn[rows, columns] - line.black_dn[columns]) / expected
    c = data.black_dn.size
    line_u = np.sqrt(np.diag(line.covariance)[c:])[columns] * np.isnan(own[rows])
    # channels of one frame share its error: together they tell no more than one of them
    together = error_u[rows] * np.sqrt(high.sum(axis=1))[rows]
    u = np.hypot(np.hypot(together, line_u) * np.log(2.0), 0.002)
    return _hinge(part[rows, columns], short, u, checked)


def _only(data: LineData, channels: NDArray[np.bool_]) -> LineData:
    """The same frames with some of the channels (c,)."""
    return replace(
        data,
        level_dn=data.level_dn[:, channels],
        level_u_dn=data.level_u_dn[:, channels],
        use=data.use[:, channels],
        black_dn=data.black_dn[channels],
        black_u_dn=data.black_u_dn[channels],
    )


def _hinge(
    part: NDArray[np.float64],
    short: NDArray[np.float64],
    u: NDArray[np.float64],
    checked: float,
) -> Bend:
    """Best slope over a grid of beginnings; none if it doesn't pay."""
    begins = np.arange(0.5, 0.98, 0.01)
    reach = np.maximum(part - begins[:, None], 0.0)  # (beginnings, cells)
    weight = np.sum((reach / u) ** 2, axis=1)
    told = weight > 0.0
    slopes = np.sum(reach * (short / u**2), axis=1) / np.where(told, weight, 1.0)
    gains = np.where(told, slopes * np.abs(slopes) * weight, 0.0)
    best = int(np.argmax(gains))
    gain, begin, slope = float(gains[best]), float(begins[best]), float(slopes[best])
    if gain < _EVIDENCE:
        return Bend(found=False, begin=1.0, limit=1.0, checked=checked)
    # `part` is the bent level; the line's own level there is part / (1 - short)
    limit = min(1.0, begin + standards.BEND_FRACTION / slope)
    if limit >= 1.0:
        return Bend(found=False, begin=1.0, limit=1.0, checked=checked)
    return Bend(found=True, begin=begin, limit=limit, checked=checked)


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
