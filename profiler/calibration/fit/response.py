"""The straight line from exposure to raw level, with an exposure error for every frame.

    level_ic = black_c + metered_c * 2^(placement_i + error_i)

Errors of shutter or iris are shared by all channels of a frame, so they are told apart from a
sensor that bends. Gauss-Newton; each frame's error meets only that frame's cells and is
eliminated (Schur complement), so that the cost is linear in the number of frames.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from profiler import standards
from profiler.calibration.fit import scatter
from profiler.calibration.fit.quantiles import median
from profiler.calibration.fit.scatter import Deviations, Scatter
from profiler.calibration.fit.slips import find_slips
from profiler.errors import MeasureError

if TYPE_CHECKING:
    from numpy.typing import NDArray

_LN2 = math.log(2.0)
_ROBUST_DOF = 3.0  # tail of the Student weights that find slips
_STEPS = 40


@dataclass(frozen=True, kw_only=True)
class LineData:
    """What one ISO label gives to the line: n frames, c channels.

    placement_ev (n,); level_dn and its standard uncertainty level_u_dn (n, c); use (n, c) marks
    the cells that lie on the straight part; black_dn and black_u_dn (c,) come from elsewhere, with
    infinite u where black is unknown. time (n,): index of the shutter time, the same for all
    labels; reading (n,): index of the reading that the placement rests on, whose error has the
    standard uncertainty reading_u_ev. Without them every frame has a time of its own, and one
    reading serves all. order (n,): place of a frame in the series, 0 to 1; where it is given, a
    straight change of the light over the series is fitted beside the line.
    """

    placement_ev: NDArray[np.float64]
    level_dn: NDArray[np.float64]
    level_u_dn: NDArray[np.float64]
    use: NDArray[np.bool_]
    black_dn: NDArray[np.float64]
    black_u_dn: NDArray[np.float64]
    time: NDArray[np.int64] | None = None
    reading: NDArray[np.int64] | None = None
    reading_u_ev: float = 0.0
    order: NDArray[np.float64] | None = None

    def __post_init__(self) -> None:
        n, c = self.level_dn.shape
        shapes = (self.placement_ev.shape, self.level_u_dn.shape, self.use.shape)
        if shapes != ((n,), (n, c), (n, c)) or self.black_dn.shape != (c,):
            raise ValueError(f"shapes don't agree: {shapes}, {self.black_dn.shape}")

    @property
    def times(self) -> NDArray[np.int64]:
        """Index of each frame's shutter time (n,)."""
        return np.arange(self.placement_ev.size) if self.time is None else self.time

    @property
    def readings(self) -> NDArray[np.int64]:
        """Index of each frame's reading (n,)."""
        zero = np.zeros(self.placement_ev.size, dtype=np.int64)
        return zero if self.reading is None else self.reading


@dataclass(frozen=True, kw_only=True)
class Solution:
    """The line for given sizes of the frame errors.

    black_dn, log_metered (c,): log2 of the metered level in DN. covariance (2c, 2c) of
    [black_dn..., log_metered...] for independent frame errors; influence (n, 2c): change of either
    by one EV more light on a frame.
    """

    black_dn: NDArray[np.float64]
    log_metered: NDArray[np.float64]
    covariance: NDArray[np.float64]
    influence: NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class ResponseFit:
    """The fitted line of one ISO label.

    black_dn, metered_dn (c,); covariance (2c, 2c) of [black_dn..., log2 metered_dn...];
    influence (n, 2c): change of either by one EV more light on a frame; deviation_ev (n,): how
    much more exposure a frame got than stated, nan where nothing of it lies on the line;
    deviation_u_ev (n,) its noise; cell_residual_ev (n, c) what is left after the frame's own
    error; kept (n,) frames that set the line; slips: indices left out as slips; scatter: sizes
    of the frame errors; scatter_dof: degrees of freedom of what they do to the line.
    """

    black_dn: NDArray[np.float64]
    metered_dn: NDArray[np.float64]
    covariance: NDArray[np.float64]
    influence: NDArray[np.float64]
    deviation_ev: NDArray[np.float64]
    deviation_u_ev: NDArray[np.float64]
    cell_residual_ev: NDArray[np.float64]
    kept: NDArray[np.bool_]
    slips: tuple[int, ...]
    scatter: Scatter
    scatter_dof: float

    @property
    def scatter_ev(self) -> float:
        """Standard deviation of one frame's error, in EV."""
        return self.scatter.total_ev

    @property
    def shown_scatter_ev(self) -> float:
        """Standard deviation of the frames about the line as they lie, errors of readings included.

        Steadied by the prior as the fit's own scatter is.
        """
        prior, prior_dof = standards.SHUTTER_SCATTER_EV, standards.SCATTER_PRIOR_DOF
        off = self.deviation_ev[self.kept & (self.deviation_u_ev < 0.5 * prior)]
        if off.size < 2:
            return self.scatter_ev
        total = prior_dof * prior**2 + float(np.sum((off - off.mean()) ** 2))
        return math.sqrt(total / (prior_dof + off.size - 1))

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
    data: LineData,
    scatter_ev: float,
    weight: NDArray[np.float64],
    start: tuple[NDArray[np.float64], NDArray[np.float64]] | None = None,
) -> Solution:
    """Return the line by least squares.

    weight (n,) multiplies the prior of each frame's error: 1 ordinary, towards 0 for a frame
    whose error is allowed to be anything. start: black_dn and log_metered to begin with.
    MeasureError where the cells can't determine a channel.
    """
    n, c = data.level_dn.shape
    black, log_metered = start if start is not None else _start(data)
    error = np.zeros(n)
    drift = 0.0
    # a change of the light acts as an error of every frame, in proportion to its place
    place = None if data.order is None else data.order - data.order.mean()
    precision = np.where(data.use, 1.0 / data.level_u_dn**2, 0.0)  # (n, c)
    prior = weight / scatter_ev**2
    known = np.isfinite(data.black_u_dn)
    black_precision = np.where(known, 1.0 / np.where(known, data.black_u_dn, 1.0) ** 2, 0.0)
    black_known = np.where(known, data.black_dn, 0.0)
    # blocks of the normal equations; [black..., log_metered..., drift] against each frame's error
    size = 2 * c if place is None else 2 * c + 1
    cross, gradient, normal = np.empty((n, size)), np.empty(size), np.zeros((size, size))
    weighted, squared = cross[:, :c], cross[:, c : 2 * c]
    first, second = np.arange(c), np.arange(c, 2 * c)
    normal[first, first] = precision.sum(axis=0) + black_precision
    for _ in range(_STEPS):
        total = data.placement_ev + error
        if place is not None:
            total = total + drift * place
        signal = np.exp2(log_metered + total[:, None])
        slope = _LN2 * signal
        residual = np.where(data.use, data.level_dn - black - signal, 0.0)
        np.multiply(precision, slope, out=weighted)
        np.multiply(weighted, slope, out=squared)
        stiffness = squared.sum(axis=1)
        inner = stiffness + prior
        normal[first, second] = normal[second, first] = weighted.sum(axis=0)
        normal[second, second] = squared.sum(axis=0)
        pulls = weighted * residual
        pull = pulls.sum(axis=1)
        gradient[:c] = (precision * residual).sum(axis=0)
        gradient[:c] += black_precision * (black_known - black)
        gradient[c : 2 * c] = pulls.sum(axis=0)
        if place is not None:
            cross[:, -1] = place * stiffness
            normal[-1] = normal[:, -1] = place @ cross
            normal[-1, -1] += 1.0 / standards.DRIFTING_EV**2
            gradient[-1] = place @ pull - drift / standards.DRIFTING_EV**2
        own = pull - prior * error
        share = cross / inner[:, None]
        inverse = _inverse(normal - cross.T @ share)
        step = inverse @ (gradient - own @ share)
        frame_step = (own - cross @ step) / inner
        limit = float(max(np.abs(step[c:]).max(), np.abs(frame_step).max(initial=0.0)))
        part = min(1.0, 1.0 / limit) if limit > 0.0 else 1.0  # at most one stop at a time
        black = black + part * step[:c]
        log_metered = log_metered + part * step[c : 2 * c]
        if place is not None:
            drift += part * float(step[-1])
        error = error + part * frame_step
        if limit < 1e-9 and np.abs(step[:c]).max() < 1e-7:
            break
    # by Woodbury's identity one EV of a frame's error enters with 1 / (1 + variance * slopes^2)
    damped = prior / inner
    influence = (cross * damped[:, None]) @ inverse[:, : 2 * c]
    return Solution(
        black_dn=black,
        log_metered=log_metered,
        covariance=inverse[: 2 * c, : 2 * c],
        influence=influence,
    )


def _inverse(normal: NDArray[np.float64]) -> NDArray[np.float64]:
    """Inverse of the normal equations, scaled to unit diagonal; MeasureError where singular."""
    scale = np.sqrt(normal.diagonal())
    if (scale > 0.0).all():
        scales = scale[:, None] * scale
        values, vectors = np.linalg.eigh(normal / scales)
        if values[0] > 1e-13:
            inverse: NDArray[np.float64] = (vectors / values) @ vectors.T / scales
            return inverse
    raise MeasureError(
        "the frames on the straight part can't tell black and level of every channel apart",
        "the series",
        "Shoot frames from 6 stops below clip up to 2 stops above it, by shutter time, and two "
        "lens-cap frames marked dark in the sheet",
    )


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
    """Return one fit per ISO label.

    First a heavy-tailed fit finds slips of the hand, then least squares on the rest, with the
    scatter that the kept frames show, steadied by the prior of standards.SHUTTER_SCATTER_EV.
    """
    kept = [np.any(label.use, axis=1) for label in labels]
    lines = [_robust(label) for label in labels]
    off = [deviations(label, *line)[:2] for label, line in zip(labels, lines, strict=True)]
    slips = find_slips([d for d, _ in off], [u for _, u in off], kept)
    for mask, out in zip(kept, slips, strict=True):
        mask[list(out)] = False
    cells = [
        replace(label, use=label.use & mask[:, None])
        for label, mask in zip(labels, kept, strict=True)
    ]
    sizes = [scatter.PRIOR for _ in labels]
    solutions: list[Solution] = []
    for _ in range(6):
        solutions = [
            solve_line(label, size.total_ev, np.ones(label.placement_ev.size), start)
            for label, size, start in zip(cells, sizes, lines, strict=True)
        ]
        lines = [(s.black_dn, s.log_metered) for s in solutions]
        update = scatter.estimate(
            [_precise(label, *line) for label, line in zip(cells, lines, strict=True)]
        )
        settled = all(
            abs(new.total_ev - old.total_ev) < 1e-3 * old.total_ev
            for new, old in zip(update, sizes, strict=True)
        )
        used, sizes = sizes, update
        if settled:
            break
    return [
        _response(label, solution, mask, out, size, size_used.total_ev)
        for label, solution, mask, out, size, size_used in zip(
            labels, solutions, kept, slips, sizes, used, strict=True
        )
    ]


def _precise(
    data: LineData, black_dn: NDArray[np.float64], log_metered: NDArray[np.float64]
) -> Deviations:
    """Deviations of the frames whose pixel noise doesn't hide their own error."""
    deviation, u, _ = deviations(data, black_dn, log_metered)
    precise = np.isfinite(deviation) & (u < 0.5 * standards.SHUTTER_SCATTER_EV)
    return Deviations(
        value_ev=deviation[precise],
        noise_u_ev=u[precise],
        time=data.times[precise],
        reading=data.readings[precise],
        reading_u_ev=data.reading_u_ev,
    )


def _response(
    data: LineData,
    solution: Solution,
    kept: NDArray[np.bool_],
    slips: tuple[int, ...],
    size: Scatter,
    used_ev: float,
) -> ResponseFit:
    """The fit with the covariance that frames have which share the error of a shutter time."""
    deviation, u, rest = deviations(data, solution.black_dn, solution.log_metered)
    influence = solution.influence
    _, time = np.unique(data.times, return_inverse=True)
    shared = np.zeros((int(time.max()) + 1, influence.shape[1]))
    np.add.at(shared, time, influence)
    covariance = (
        solution.covariance
        + (size.own_ev**2 - used_ev**2) * (influence.T @ influence)
        + size.time_ev**2 * (shared.T @ shared)
    )
    channels = data.black_dn.size
    best = channels + int(np.argmax(data.use.sum(axis=0)))
    return ResponseFit(
        black_dn=solution.black_dn,
        metered_dn=np.exp2(solution.log_metered),
        covariance=covariance,
        influence=influence,
        deviation_ev=deviation,
        deviation_u_ev=u,
        cell_residual_ev=rest,
        kept=kept,
        slips=slips,
        scatter=size,
        scatter_dof=size.dof(influence[:, best], time),
    )


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
    size = standards.SHUTTER_SCATTER_EV
    line = _start(data)
    for _ in range(12):
        deviation, u, _rest = deviations(data, *line)
        z2 = np.where(np.isfinite(deviation), deviation, 0.0) ** 2 / (size**2 + u**2)
        weight = (_ROBUST_DOF + 1.0) / (_ROBUST_DOF + z2)
        solution = solve_line(data, size, weight, line)
        update = (solution.black_dn, solution.log_metered)
        moved = float(np.max(np.abs(update[1] - line[1]), initial=0.0))
        line = update
        if moved < 1e-4:
            break
    return line
