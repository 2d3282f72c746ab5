"""Propagation of distributions by Monte Carlo (JCGM 101:2008), the second road to an interval."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from profiler.fitting.order import quantile

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from profiler.results import BudgetRow

TRIALS = 40_000
SEED = 101


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """Mean, standard deviation and interval of a simulated output quantity."""

    mean: float
    u: float
    low: float
    high: float


def draw(row: BudgetRow, rng: np.random.Generator, trials: int) -> NDArray[np.float64]:
    """Return draws (trials,) of one source about zero, times its sensitivity, in EV.

    A t row is drawn scaled and shifted, t_nu u (JCGM 101:2008, 6.4.9).
    """
    if row.distribution == "normal":
        values = rng.normal(0.0, row.u_ev, trials)
    elif row.distribution == "t":
        values = row.u_ev * rng.standard_t(row.dof or math.inf, trials)
    else:
        half = row.half_width_ev or 0.0
        values = half * unit_draws(row.distribution, rng, trials)
    return row.sensitivity * values


def unit_draws(distribution: str, rng: np.random.Generator, trials: int) -> NDArray[np.float64]:
    """Return draws (trials,) between -1 and 1 of a bounded distribution, by its name."""
    if distribution == "rectangular":
        return rng.uniform(-1.0, 1.0, trials)
    if distribution == "triangular":
        return rng.triangular(-1.0, 0.0, 1.0, trials)
    if distribution == "arcsine":
        return np.sin(rng.uniform(-0.5 * math.pi, 0.5 * math.pi, trials))
    raise ValueError(f"{distribution!r} isn't a bounded distribution")


def summary(values: NDArray[np.float64], probability: float = 0.95) -> Drawn:
    """Return mean, standard deviation and the probabilistically symmetric interval of draws.

    JCGM 101:2008, 7.7: the interval between the (1-p)/2 and (1+p)/2 points.
    """
    tail = 0.5 * (1.0 - probability)
    low, high = quantile(values, tail), quantile(values, 1.0 - tail)
    return Drawn(
        mean=float(values.mean()),
        u=float(values.std(ddof=1)),
        low=low,
        high=high,
    )


def shortest(values: NDArray[np.float64], probability: float = 0.95) -> tuple[float, float]:
    """Return the shortest interval that holds the share `probability` of draws (5.3.4)."""
    ordered = np.sort(values)
    inside = math.ceil(probability * ordered.size)
    widths = ordered[inside - 1 :] - ordered[: ordered.size - inside + 1]
    start = int(np.argmin(widths))
    return float(ordered[start]), float(ordered[start + inside - 1])


def propagate(
    rows: Sequence[BudgetRow],
    model: Callable[[NDArray[np.float64]], NDArray[np.float64]] | None = None,
    *,
    trials: int = TRIALS,
    seed: int = SEED,
) -> Drawn:
    """Return the output of `model` (identity where None) for the sum of all rows' draws, in EV."""
    rng = np.random.default_rng(seed)
    total = np.zeros(trials)
    for row in rows:
        total += draw(row, rng, trials)
    return summary(total if model is None else model(total))
