"""Sizes of the exposure errors of frames: each frame's own, and one shared by a shutter time.

    error_i = own_i + time_t(i) [+ reading_r(i)]

Repeats of one shutter time share most of its error, so they are not independent. Errors of
readings are known from the meter (type B) and taken out of what the frames show, so that they
count once, in a row of their own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from profiler import standards

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, kw_only=True)
class Scatter:
    """Standard deviations in EV of a frame's own error and of the error of a shutter time.

    between_ms, within_ms (EV^2) are the mean squares behind them, with their degrees of freedom;
    repeats is the number of frames per time that between_ms refers to (1: none is repeated, and
    then all scatter counts as own).
    """

    own_ev: float
    time_ev: float
    within_ms: float
    within_dof: float
    between_ms: float
    between_dof: float
    repeats: float

    @property
    def total_ev(self) -> float:
        """Standard deviation of one frame's error."""
        return float(np.hypot(self.own_ev, self.time_ev))

    def dof(self, weight: NDArray[np.float64], time: NDArray[np.int64]) -> float:
        """Return the effective degrees of freedom of sum(weight_i error_i).

        Its variance is written as A within_ms + B between_ms and treated after
        Welch-Satterthwaite (JCGM 100:2008, G.4).
        """
        if self.time_ev == 0.0:
            return self.within_dof
        b = by_group(weight, time) / self.repeats
        a = float(np.sum(weight**2)) - b
        parts = (
            (a * self.within_ms, self.within_dof),
            (b * self.between_ms, self.between_dof),
        )
        total = sum(part for part, _ in parts)
        spread = sum(part**2 / dof for part, dof in parts if dof > 0.0)
        return total**2 / spread if spread > 0.0 and total > 0.0 else self.between_dof


@dataclass(frozen=True, kw_only=True)
class Deviations:
    """Deviations of the frames of one ISO label from its line: each array (n,), in EV.

    noise_u_ev: pixel noise; time: index of the shutter time; reading: index of the reading that
    a frame's placement rests on, with reading_u_ev its standard uncertainty.
    """

    value_ev: NDArray[np.float64]
    noise_u_ev: NDArray[np.float64]
    time: NDArray[np.int64]
    reading: NDArray[np.int64]
    reading_u_ev: float


def by_group(weight: NDArray[np.float64], group: NDArray[np.int64]) -> float:
    """Return the sum over groups of (sum of weights in the group)^2."""
    _, index = np.unique(group, return_inverse=True)
    return float(np.sum(np.bincount(index, weights=weight) ** 2))


PRIOR = Scatter(
    own_ev=standards.SHUTTER_SCATTER_EV,
    time_ev=0.0,
    within_ms=standards.SHUTTER_SCATTER_EV**2,
    within_dof=standards.SCATTER_PRIOR_DOF,
    between_ms=standards.SHUTTER_SCATTER_EV**2,
    between_dof=standards.SCATTER_PRIOR_DOF,
    repeats=1.0,
)
"""What is assumed before a frame is seen."""


def estimate(labels: Sequence[Deviations]) -> list[Scatter]:
    """Return the scatter of each ISO label.

    Analysis of variance by shutter time; a label's own sums count in full, those of the other
    labels with standards.SCATTER_SHARED_DOF degrees of freedom at most, and fewer the more they
    differ, since labels may scatter differently.
    """
    sums = [_sums(label) for label in labels]
    return [
        _scatter(own, [other for k, other in enumerate(sums) if k != i])
        for i, own in enumerate(sums)
    ]


@dataclass(frozen=True, kw_only=True)
class _Sums:
    """Sums of squares within and between shutter times, with degrees of freedom."""

    within: float
    within_dof: float
    between: float
    between_dof: float
    spare: float  # frames beyond one per time: between_dof * repeats


def _sums(label: Deviations) -> _Sums:
    value = label.value_ev
    n = value.size
    if n < 2:
        return _Sums(within=0.0, within_dof=0.0, between=0.0, between_dof=0.0, spare=0.0)
    _, time = np.unique(label.time, return_inverse=True)
    count = np.bincount(time).astype(np.float64)
    mean = np.bincount(time, weights=value) / count
    within = float(np.sum((value - mean[time]) ** 2))
    between = float(np.sum(count * (mean - value.mean()) ** 2))
    within_dof, between_dof = float(n - count.size), float(count.size - 1)
    # what pixel noise and readings put into either sum
    noise = float(np.mean(label.noise_u_ev**2))
    _, reading = np.unique(label.reading, return_inverse=True)
    readings = int(reading.max()) + 1
    pair_count = np.bincount(time * readings + reading).astype(np.float64)
    pair_time = np.arange(pair_count.size) // readings
    in_times = n - float(np.sum(pair_count**2 / count[pair_time]))
    in_all = n - float(np.sum(np.bincount(reading) ** 2.0)) / n
    variance = label.reading_u_ev**2
    return _Sums(
        within=max(within - noise * within_dof - variance * in_times, 0.0),
        within_dof=within_dof,
        between=max(between - noise * between_dof - variance * (in_all - in_times), 0.0),
        between_dof=between_dof,
        spare=n - float(np.sum(count**2)) / n,
    )


def _scatter(own: _Sums, others: Sequence[_Sums]) -> Scatter:
    prior, prior_dof = standards.SHUTTER_SCATTER_EV**2, standards.SCATTER_PRIOR_DOF
    shared = standards.SCATTER_SHARED_DOF

    def joined(name: str, prior_ms: float) -> tuple[float, float]:
        """Mean square and its degrees of freedom: own, others' (limited) and the prior's."""
        total = prior_dof * prior_ms + getattr(own, name)
        dof = prior_dof + getattr(own, f"{name}_dof")
        other_dof = sum(getattr(other, f"{name}_dof") for other in others)
        if other_dof > 0.0:
            other_total = sum(getattr(other, name) for other in others)
            ratio = (total / dof) / max(other_total / other_dof, 1e-12)
            alike = min(1.0, 2.0 * min(ratio, 1.0 / ratio)) ** 2  # unlike labels lend nothing
            weight = alike * min(1.0, shared / other_dof)
            total += weight * other_total
            dof += weight * other_dof
        return total / dof, dof

    everything = [own, *others]
    between_dof = sum(s.between_dof for s in everything)
    if between_dof == 0.0 and sum(s.within_dof for s in everything) > 0.0:
        return _of_one_time(*joined("within", 0.5 * prior))
    repeats = sum(s.spare for s in everything) / between_dof if between_dof > 0.0 else 1.0
    if repeats <= 1.01 or sum(s.within_dof for s in everything) == 0.0:
        ms, dof = joined("between", prior)
        return Scatter(
            own_ev=float(np.sqrt(ms)),
            time_ev=0.0,
            within_ms=ms,
            within_dof=dof,
            between_ms=ms,
            between_dof=dof,
            repeats=1.0,
        )
    within, within_dof = joined("within", 0.5 * prior)
    between, between_dof = joined("between", 0.5 * prior * (1.0 + repeats))
    if between <= within:  # no error that repeats share
        ms = (within * within_dof + between * between_dof) / (within_dof + between_dof)
        dof = within_dof + between_dof - prior_dof
        within, within_dof, between, between_dof = ms, dof, ms, dof
    return Scatter(
        own_ev=float(np.sqrt(within)),
        time_ev=float(np.sqrt(max(between - within, 0.0) / repeats)),
        within_ms=within,
        within_dof=within_dof,
        between_ms=between,
        between_dof=between_dof,
        repeats=repeats,
    )


def _of_one_time(within: float, dof: float) -> Scatter:
    """Scatter where all frames share one shutter time: its own error stays as likely as before."""
    time_ev = float(np.sqrt(0.5)) * standards.SHUTTER_SCATTER_EV
    return Scatter(
        own_ev=float(np.sqrt(within)),
        time_ev=time_ev,
        within_ms=within,
        within_dof=dof,
        between_ms=within + time_ev**2,
        between_dof=standards.SCATTER_PRIOR_DOF,
        repeats=1.0,
    )
