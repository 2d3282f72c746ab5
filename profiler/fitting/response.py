"""The straight line from exposure to raw level, with an exposure error for every frame.

    level_ic = black_c + metered_c * 2^(placement_i + error_i)

Errors of shutter or iris are shared by all channels of a frame, so they are told apart from a
sensor that bends. Gauss-Newton on dense normal equations: a label has some fifty unknowns.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from profiler import standards
from profiler.fitting.order import median
from profiler.fitting.student import normal_quantile, t_quantile

if TYPE_CHECKING:
    from numpy.typing import NDArray

_LN2 = math.log(2.0)
_ROBUST_DOF = 3.0  # tail of the Student weights that find slips


@dataclass(frozen=True, kw_only=True)
class LineData:
    """What one ISO label gives to the line: n frames, c channels.

    placement_ev (n,); level_dn and its standard uncertainty level_u_dn (n, c); use (n, c) marks
    the cells that lie on the straight part; black_dn and black_u_dn (c,) come from elsewhere, with
    infinite u where black is unknown.
    """

    placement_ev: NDArray[np.float64]
    level_dn: NDArray[np.float64]
    level_u_dn: NDArray[np.float64]
    use: NDArray[np.bool_]
    black_dn: NDArray[np.float64]
    black_u_dn: NDArray[np.float64]

    def __post_init__(self) -> None:
        n, c = self.level_dn.shape
        shapes = (self.placement_ev.shape, self.level_u_dn.shape, self.use.shape)
        if shapes != ((n,), (n, c), (n, c)) or self.black_dn.shape != (c,):
            raise ValueError(f"shapes don't agree: {shapes}, {self.black_dn.shape}")


@dataclass(frozen=True, kw_only=True)
class ResponseFit:
    """The fitted line of one ISO label.

    black_dn, metered_dn (c,); covariance (2c, 2c) of [black_dn..., log2 metered_dn...];
    deviation_ev (n,): how much more exposure a frame got than stated, nan where nothing of it
    lies on the line; deviation_u_ev (n,) its noise; cell_residual_ev (n, c) what is left after
    the frame's own error; kept (n,) frames that set the line; slips: indices left out as slips.
    scatter_ev: standard deviation of the frame errors, with scatter_dof degrees of freedom.
    """

    black_dn: NDArray[np.float64]
    metered_dn: NDArray[np.float64]
    covariance: NDArray[np.float64]
    deviation_ev: NDArray[np.float64]
    deviation_u_ev: NDArray[np.float64]
    cell_residual_ev: NDArray[np.float64]
    kept: NDArray[np.bool_]
    slips: tuple[int, ...]
    scatter_ev: float
    scatter_dof: float

    @property
    def kept_deviation_ev(self) -> NDArray[np.float64]:
        """Deviations (n,) of the kept frames, nan for the others."""
        return np.where(self.kept, self.deviation_ev, np.nan)

    @property
    def rms_ev(self) -> float:
        """Root mean square of the deviations of the kept frames, in EV."""
        kept = self.deviation_ev[self.kept]
        return float(np.sqrt(np.mean(kept**2))) if kept.size else 0.0


def solve_line(
    data: LineData, scatter_ev: float, weight: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return black_dn (c,), log2 metered_dn (c,) and the covariance (2c, 2c) of both.

    weight (n,) multiplies the prior of each frame's error: 1 ordinary, towards 0 for a frame
    whose error is allowed to be anything.
    """
    n, c = data.level_dn.shape
    black, log_metered = _start(data)
    error = np.zeros(n)
    rows, columns = np.nonzero(data.use)
    known = np.isfinite(data.black_u_dn)
    inverse_u = 1.0 / data.level_u_dn[rows, columns]
    prior = np.sqrt(weight) / scatter_ev
    size = 2 * c + n
    jacobian = np.zeros((rows.size + n + c, size))
    cells = np.arange(rows.size)
    jacobian[cells, columns] = inverse_u
    jacobian[rows.size + np.arange(n), 2 * c + np.arange(n)] = prior
    black_weight = np.where(known, 1.0 / np.where(known, data.black_u_dn, 1.0), 0.0)
    jacobian[rows.size + n + np.arange(c), np.arange(c)] = black_weight
    normal = np.eye(size)
    for _ in range(40):
        signal = np.exp2(log_metered[columns] + data.placement_ev[rows] + error[rows])
        slope = _LN2 * signal * inverse_u
        jacobian[cells, c + columns] = slope
        jacobian[cells, 2 * c + rows] = slope
        residual = np.concatenate(
            [
                (data.level_dn[rows, columns] - black[columns] - signal) * inverse_u,
                -error * prior,
                np.where(known, data.black_dn - black, 0.0) * black_weight,
            ]
        )
        normal = jacobian.T @ jacobian
        step = np.linalg.solve(normal, jacobian.T @ residual)
        limit = np.max(np.abs(step[c:]), initial=0.0)
        step *= min(1.0, 1.0 / limit) if limit > 0.0 else 1.0  # at most one stop at a time
        black = black + step[:c]
        log_metered = log_metered + step[c : 2 * c]
        error = error + step[2 * c :]
        if limit < 1e-9 and np.max(np.abs(step[:c])) < 1e-7:
            break
    covariance = np.asarray(np.linalg.inv(normal)[: 2 * c, : 2 * c], dtype=np.float64)
    return black, log_metered, covariance


def deviations(
    data: LineData, black_dn: NDArray[np.float64], log_metered: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return per frame the deviation (n,) and its noise (n,), per cell the rest (n, c); in EV."""
    signal = data.level_dn - black_dn
    on_line = data.use & (signal > 0.0)
    safe = np.where(on_line, signal, 1.0)
    raw = np.where(on_line, np.log2(safe) - log_metered - data.placement_ev[:, None], np.nan)
    weight = np.where(on_line, (safe * _LN2 / data.level_u_dn) ** 2, 0.0)
    total = weight.sum(axis=1)
    seen = total > 0.0
    safe_total = np.where(seen, total, 1.0)
    deviation = np.where(
        seen, np.sum(np.where(on_line, raw, 0.0) * weight, axis=1) / safe_total, np.nan
    )
    u = np.where(seen, 1.0 / np.sqrt(safe_total), np.inf)
    return deviation, u, raw - deviation[:, None]


def fit_lines(labels: Sequence[LineData]) -> list[ResponseFit]:
    """Return one fit per ISO label; the scatter of the frame errors is pooled over all of them.

    First a heavy-tailed fit finds slips of the hand, then least squares on the rest, with the
    scatter that the kept frames show, steadied by the prior of standards.SHUTTER_SCATTER_EV.
    """
    kept = [np.any(label.use, axis=1) for label in labels]
    robust = [_robust(label) for label in labels]
    slips = _slips(labels, robust, kept)
    for mask, out in zip(kept, slips, strict=True):
        mask[list(out)] = False
    scatter = standards.SHUTTER_SCATTER_EV
    dof = standards.SCATTER_PRIOR_DOF
    fits: list[ResponseFit] = []
    for _ in range(6):
        fits = [
            _final(label, mask, out, scatter, dof)
            for label, mask, out in zip(labels, kept, slips, strict=True)
        ]
        update, dof = _pooled_scatter(fits)
        settled = abs(update - scatter) < 1e-3 * scatter
        scatter = update
        if settled:
            break
    return [replace(fit, scatter_ev=scatter, scatter_dof=dof) for fit in fits]


def _start(data: LineData) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Black and log2 metered level to start from; a straight line where black is unknown."""
    c = data.black_dn.size
    black = np.where(np.isfinite(data.black_u_dn), data.black_dn, 0.0)
    log_metered = np.zeros(c)
    for k in range(c):
        use = data.use[:, k]
        x, y = data.placement_ev[use], data.level_dn[use, k]
        if not np.isfinite(data.black_u_dn[k]) and x.size > 1 and np.ptp(x) > 0.0:
            h = np.exp2(x)
            weight = 1.0 / np.maximum(np.abs(y), 1.0)
            slope_black = np.polyfit(h, y, 1, w=weight)
            black[k] = min(slope_black[1], float(np.min(y)) - 1.0)
        signal = np.maximum(y - black[k], 1e-3)
        log_metered[k] = median(np.log2(signal) - x) if x.size else 0.0
    return black, log_metered


def _robust(data: LineData) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Black and log2 metered level of the heavy-tailed fit (Student weights, iterated)."""
    scatter = standards.SHUTTER_SCATTER_EV
    black, log_metered = _start(data)
    for _ in range(12):
        deviation, u, _rest = deviations(data, black, log_metered)
        z2 = np.where(np.isfinite(deviation), deviation, 0.0) ** 2 / (scatter**2 + u**2)
        weight = (_ROBUST_DOF + 1.0) / (_ROBUST_DOF + z2)
        update = solve_line(data, scatter, weight)[:2]
        moved = float(np.max(np.abs(update[1] - log_metered), initial=0.0))
        black, log_metered = update
        if moved < 1e-4:
            break
    return black, log_metered


def _slips(
    labels: Sequence[LineData],
    robust: Sequence[tuple[NDArray[np.float64], NDArray[np.float64]]],
    kept: Sequence[NDArray[np.bool_]],
) -> list[tuple[int, ...]]:
    """Frames too far off to be scatter, judged one at a time against all the others."""
    found: list[list[int]] = [[] for _ in labels]
    all_deviations = [
        deviations(data, *line)[:2] for data, line in zip(labels, robust, strict=True)
    ]
    pool = [
        (group, i)
        for group, mask in enumerate(kept)
        for i in np.flatnonzero(mask)
        if np.isfinite(all_deviations[group][0][i])
    ]
    allowed = [max(1, int(mask.sum()) // 4) if mask.sum() >= 4 else 0 for mask in kept]
    while True:
        values = np.array([all_deviations[g][0][i] for g, i in pool])
        noise = np.array([all_deviations[g][1][i] for g, i in pool])
        groups = np.array([g for g, _ in pool])
        worst: tuple[float, int] | None = None
        for k in np.argsort(-np.abs(values))[:3]:
            g, i = pool[k]
            if len(found[g]) >= allowed[g]:
                continue
            others = np.arange(values.size) != k
            same = others & (groups == g)
            centre = median(values[same]) if same.any() else 0.0
            limit = _slip_limit(values[others], noise[others], float(noise[k]))
            excess = abs(values[k] - centre) / limit
            if excess > 1.0 and (worst is None or excess > worst[0]):
                worst = (excess, int(k))
        if worst is None:
            return [tuple(sorted(out)) for out in found]
        g, i = pool.pop(worst[1])
        found[g].append(int(i))


def _slip_limit(others: NDArray[np.float64], noise: NDArray[np.float64], own_noise: float) -> float:
    """EV beyond which one more frame is no member of `others`."""
    prior, prior_dof = standards.SHUTTER_SCATTER_EV, standards.SCATTER_PRIOR_DOF
    precise = noise < prior
    dof = max(float(precise.sum()) - 1.0 + prior_dof, 2.0)
    # trimmed, so that a second slip doesn't hide the first; scaled back to a normal's variance
    spread = np.sort(others[precise] ** 2)
    inner = math.ceil(0.9 * spread.size)
    total = float(spread[:inner].sum())
    if inner < spread.size:
        share = inner / spread.size
        edge = normal_quantile(0.5 * (1.0 + share))
        total /= share - 2.0 * edge * math.exp(-0.5 * edge**2) / math.sqrt(2.0 * math.pi)
    scatter = math.sqrt((total + prior_dof * prior**2) / dof)
    sigma = math.hypot(scatter, own_noise)
    return max(standards.SLIP_EV, t_quantile(1.0 - 5e-5, dof) * sigma)


def _final(
    data: LineData,
    kept: NDArray[np.bool_],
    slips: tuple[int, ...],
    scatter_ev: float,
    scatter_dof: float,
) -> ResponseFit:
    line = replace(data, use=data.use & kept[:, None])
    black, log_metered, covariance = solve_line(line, scatter_ev, np.ones(kept.size))
    deviation, u, rest = deviations(data, black, log_metered)
    return ResponseFit(
        black_dn=black,
        metered_dn=np.exp2(log_metered),
        covariance=covariance,
        deviation_ev=deviation,
        deviation_u_ev=u,
        cell_residual_ev=rest,
        kept=kept,
        slips=slips,
        scatter_ev=scatter_ev,
        scatter_dof=scatter_dof,
    )


def _pooled_scatter(fits: Sequence[ResponseFit]) -> tuple[float, float]:
    """Standard deviation of the frame errors over all labels, and its degrees of freedom."""
    prior, prior_dof = standards.SHUTTER_SCATTER_EV, standards.SCATTER_PRIOR_DOF
    total, dof = prior_dof * prior**2, prior_dof
    for fit in fits:
        precise = fit.kept & (fit.deviation_u_ev < 0.5 * prior)
        count = int(precise.sum())
        if count > 1:
            deviation = fit.deviation_ev[precise]
            noise = float(np.sum(fit.deviation_u_ev[precise] ** 2)) * (count - 1) / count
            spread = float(np.sum((deviation - deviation.mean()) ** 2))
            total += max(spread - noise, 0.0)
            dof += count - 1
    return math.sqrt(total / dof), dof
