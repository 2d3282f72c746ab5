"""Exposure errors that follow the order of the frames."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from profiler import standards
from profiler.calibration.fit.student import t_quantile

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from profiler.calibration.fit.scatter import Scatter


@dataclass(frozen=True, kw_only=True)
class Trend:
    """Change of the light over the whole series, in EV, as the frame errors tell it.

    u_ev is infinite where the frames tell nothing; tests: how many such questions are asked of
    the series, which share the rate of false answers.
    """

    change_ev: float
    u_ev: float
    dof: float
    tests: int = 1

    @property
    def seen(self) -> bool:
        """Whether it is more than scatter and large enough to matter."""
        factor = t_quantile(1.0 - 0.5 * standards.TREND_FALSE / self.tests, max(self.dof, 2.0))
        return abs(self.change_ev) > max(standards.TREND_EV, factor * self.u_ev)


NO_TREND = Trend(change_ev=0.0, u_ev=math.inf, dof=2.0)


def find_trend(
    order: Sequence[NDArray[np.float64]],
    deviation_ev: Sequence[NDArray[np.float64]],
    time: Sequence[NDArray[np.int64]],
    scatter: Sequence[Scatter],
    shared_ev: float | None = None,
) -> Trend:
    """Return the straight trend of deviations over the order of the frames (0 first, 1 last).

    One array (n,) of each kind and one scatter per ISO label. Every label has a level of its own,
    since labels are right or wrong on their own; every shutter time has an error of its own, which
    its repeats share (generalised least squares). nan deviations don't count.
    """
    kept = [np.isfinite(d) for d in deviation_ev]
    counts = [int(k.sum()) for k in kept]
    n, labels = sum(counts), sum(1 for count in counts if count)
    if n < labels + 4:
        return NO_TREND
    label = np.repeat(np.arange(len(counts)), counts)
    when = np.concatenate([o[k] for o, k in zip(order, kept, strict=True)])
    value = np.concatenate([d[k] for d, k in zip(deviation_ev, kept, strict=True)])
    _, times = np.unique(
        np.concatenate([t[k] for t, k in zip(time, kept, strict=True)]), return_inverse=True
    )
    own = np.array([s.own_ev for s in scatter])[label]
    shared = shared_ev
    if shared is None:
        shared = _shared_ev(value, times, own) if any(s.time_ev for s in scatter) else 0.0
    fixed = np.column_stack([when, np.equal.outer(label, np.unique(label)).astype(np.float64)])
    weight = 1.0 / own**2
    left = fixed.T * weight
    normal, target = left @ fixed, left @ value
    square = float(weight @ value**2)
    if shared > 1e-6:  # eliminate the errors of the shutter times
        columns = int(times.max()) + 1
        diagonal = np.bincount(times, weights=weight, minlength=columns) + 1.0 / shared**2
        cross = np.stack([np.bincount(times, weights=row, minlength=columns) for row in left])
        by_time = np.bincount(times, weights=weight * value, minlength=columns)
        normal = normal - (cross / diagonal) @ cross.T
        target = target - (cross / diagonal) @ by_time
        square -= float(by_time @ (by_time / diagonal))
    levels = normal[1:, 1:]
    free = normal[0, 0] - normal[0, 1:] @ np.linalg.solve(levels, normal[1:, 0])
    if not free > 1e-9 * normal[0, 0]:
        return NO_TREND
    found = np.linalg.solve(normal, target)
    # the scatter was found with the trend in it: what the trend doesn't explain sets its u
    spare = n - labels - 1
    left_over = max(square - float(found @ target), 0.0)
    scale = math.sqrt((1.0 + left_over) / (1.0 + spare))
    dof = sum(s.between_dof if s.time_ev > 0.0 else s.within_dof for s in scatter) / len(scatter)
    return Trend(change_ev=float(found[0]), u_ev=scale / math.sqrt(float(free)), dof=dof)


def find_trends(
    order: Sequence[NDArray[np.float64]],
    deviation_ev: Sequence[NDArray[np.float64]],
    time: Sequence[NDArray[np.int64]],
    scatter: Sequence[Scatter],
) -> list[Trend]:
    """Return the trend that counts for each ISO label: that of the series, unless the label's own
    stands out.

    A lamp that warms up changes during the first label only.
    """
    whole = find_trend(order, deviation_ev, time, scatter)
    labels = range(len(scatter))
    if whole.seen or len(scatter) == 1:
        return [whole for _ in labels]
    own = [
        _own_trend(k, [i for i in labels if i != k], order, deviation_ev, time, scatter)
        for k in labels
    ]
    return [trend if trend.seen else whole for trend in own]


def _own_trend(
    k: int,
    others: Sequence[int],
    order: Sequence[NDArray[np.float64]],
    deviation_ev: Sequence[NDArray[np.float64]],
    time: Sequence[NDArray[np.int64]],
    scatter: Sequence[Scatter],
) -> Trend:
    """The change of the light over the frames of label k alone.

    Its shutter times are expected to err as those of the other labels do.
    """
    span = float(np.ptp(order[k]))
    error_ev = math.sqrt(sum(scatter[i].time_ev ** 2 for i in others) / len(others))
    found = find_trend([order[k]], [deviation_ev[k]], [time[k]], [scatter[k]], error_ev)
    if not found.seen:
        return NO_TREND
    return Trend(
        change_ev=found.change_ev * span,
        u_ev=found.u_ev * span,
        dof=found.dof,
        tests=len(others) + 1,
    )


def _shared_ev(
    value: NDArray[np.float64], times: NDArray[np.int64], own_ev: NDArray[np.float64]
) -> float:
    """Standard deviation of the errors of shutter times that all labels agree on, in EV.

    A light that changes during one label only is no error of its shutter times.
    """
    count = np.bincount(times)
    mean = np.bincount(times, weights=value) / count
    variance = float(np.mean(mean**2)) - float(np.mean(own_ev**2)) * float(np.mean(1.0 / count))
    return math.sqrt(max(variance, 0.0))
