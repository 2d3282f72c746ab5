"""The light of groups of frames, with errors that frames of one group or setting share."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler import standards
from profiler.calibration.fit.budget import coverage_factor
from profiler.errors import MeasureError


@dataclass(frozen=True, kw_only=True)
class Shared:
    """An error that frames share: index (n,) of who shares it, its standard uncertainty in EV.

    amount (n,): how much of it each frame gets; None for all of it.
    """

    index: NDArray[np.int64]
    u_ev: float
    amount: NDArray[np.float64] | None = None


@dataclass(frozen=True, kw_only=True)
class Levels:
    """Light (k,) of k groups with its covariance (k, k), in EV.

    scatter_ev: of one frame's exposure, from repeats with dof degrees of freedom (infinite where it
    isn't measured but known); own (k, k): the part of the covariance that rests on it. shared_ev:
    of each shared error, what the frames tell of the first who share it, with what stays in doubt.
    """

    light_ev: NDArray[np.float64]
    covariance: NDArray[np.float64]
    own: NDArray[np.float64]
    scatter_ev: float
    dof: float
    shared_ev: tuple[tuple[float, float], ...]

    def difference(self, weights: NDArray[np.float64]) -> tuple[float, float]:
        """Return the value of weights (k,) on the lights, and its standard uncertainty.

        The uncertainty is widened so that 1.96 of it hold 95 %, by Student's t at the effective
        degrees of freedom (Welch-Satterthwaite, JCGM 100:2008, G.4).
        """
        variance = float(weights @ self.covariance @ weights)
        own = float(weights @ self.own @ weights)
        if variance <= 0.0:
            return float(weights @ self.light_ev), 0.0
        dof = self.dof * (variance / own) ** 2 if own > 0.0 else math.inf
        wider = coverage_factor(dof) / coverage_factor(math.inf)
        return float(weights @ self.light_ev), wider * math.sqrt(variance)


def repeat_scatter(
    light_ev: NDArray[np.float64],
    noise_u_ev: NDArray[np.float64],
    repeats: NDArray[np.int64],
) -> tuple[float, int]:
    """Return the standard deviation of frames that repeat each other, with its degrees of freedom.

    repeats (n,): index of frames of one light and one setting. The pixels' noise is taken off.
    """
    count = np.bincount(repeats)
    mean = np.bincount(repeats, weights=light_ev) / np.maximum(count, 1)
    dof = int(np.sum(np.maximum(count - 1, 0)))
    if dof == 0:
        return 0.0, 0
    several = count[repeats] > 1
    square = float(np.sum((light_ev - mean[repeats])[several] ** 2)) / dof
    noise = float(np.mean(noise_u_ev[several] ** 2))
    return math.sqrt(max(square - noise, 0.0)), dof


def frame_scatter(
    light_ev: NDArray[np.float64],
    noise_u_ev: NDArray[np.float64],
    repeats: NDArray[np.int64],
    *,
    electronic: bool,
    lacking: str,
    mend: str,
) -> tuple[float, float]:
    """Return the scatter of one frame's exposure, from repeats, with its degrees of freedom.

    That of an electronic shutter is known where too little repeats; MeasureError for another one,
    which says what is lacking.
    """
    scatter, dof = repeat_scatter(light_ev, noise_u_ev, repeats)
    if dof >= 2:
        return scatter, float(dof)
    if not electronic:
        raise MeasureError(
            lacking,
            "the series",
            f"{mend}, or use an electronic shutter and say so ({{electronic_shutter}})",
            "electronic_shutter",
        )
    return standards.ELECTRONIC_SCATTER_EV, math.inf


def solve_levels(
    light_ev: NDArray[np.float64],
    noise_u_ev: NDArray[np.float64],
    group: NDArray[np.int64],
    shared: Sequence[Shared],
    *,
    scatter_ev: float,
    dof: float,
) -> Levels:
    """Return each group's light by generalised least squares.

    light_i = light of its group + own error (scatter_ev) + shared errors. group (n,): 0 to k - 1.
    """
    n = light_ev.size
    own = np.eye(n) * scatter_ev**2
    rest = np.diag(noise_u_ev**2)
    first: list[NDArray[np.float64]] = []
    for each in shared:
        _, place = np.unique(each.index, return_inverse=True)
        amount = np.ones(n) if each.amount is None else each.amount
        design = np.zeros((n, int(place.max()) + 1))
        design[np.arange(n), place] = amount
        rest += each.u_ev**2 * (design @ design.T)
        first.append(design[:, 0])
    groups = np.zeros((n, int(group.max()) + 1))
    groups[np.arange(n), group] = 1.0
    floor = standards.LEVEL_FLOOR_FRACTION**2 * np.eye(n)
    weight = np.linalg.inv(own + rest + floor)
    covariance = np.asarray(np.linalg.inv(groups.T @ weight @ groups), dtype=np.float64)
    gain = covariance @ groups.T @ weight
    free = weight - weight @ groups @ gain  # what no choice of the lights explains
    told = []
    for each, column in zip(shared, first, strict=True):
        variance = each.u_ev**2
        left = variance - variance**2 * float(column @ free @ column)
        value = variance * float(column @ free @ light_ev)
        told.append((value, math.sqrt(max(left, 0.0))))
    return Levels(
        light_ev=gain @ light_ev,
        covariance=covariance,
        own=gain @ own @ gain.T,
        scatter_ev=scatter_ev,
        dof=dof,
        shared_ev=tuple(told),
    )
