"""The 95 % interval of a budget: linear propagation, held against a Monte Carlo (JCGM 101:2008)."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from profiler.calibration.fit import budget
from profiler.calibration.fit.quantiles import quantile
from profiler.records import Estimate, Flag
from profiler.results import BudgetRow

if TYPE_CHECKING:
    from numpy.typing import NDArray

TRIALS = 40_000
SEED = 101
BLOCK = 10_000
"""Trials of one block: the least that JCGM 101:2008, 7.9.4, takes for a 95 % interval."""
LEAST_BLOCKS = 4
"""Fewer don't tell how far blocks scatter."""
MOST_BLOCKS = 40
"""0.1 s: by then the end of the interval is known to half a per cent of its uncertainty."""
CLEAR_SIGMAS = 4.0
"""Distance from the tolerance, in standard deviations, at which a comparison is decided."""


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """Mean, standard deviation and interval of a simulated output quantity."""

    mean: float
    u: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class Check:
    """Half a 95 % interval by Monte Carlo, held against the one by linear propagation (EV).

    apart_ev: their distance; valid: whether it lies within the numerical tolerance; trials: as many
    as it took.
    """

    half_ev: float
    apart_ev: float
    valid: bool
    trials: int


def numerical_tolerance(u: float) -> float:
    """Return half a unit of the last digit of u that counts: 10^r/2 with u = c 10^r.

    JCGM 101:2008, 7.9.2. One digit counts, for limits such as +-0.1 EV of a meter aren't known
    better; two where the first is a 1, which alone would round u by up to half.

    >>> numerical_tolerance(0.072), numerical_tolerance(0.12)
    (0.005, 0.005)
    """
    if not u > 0.0:
        return 0.0
    place = math.floor(math.log10(u) + 1e-12)
    return 0.5 * 10.0 ** (place - 1 if u < 2.0 * 10.0**place else place)


def check_interval(rows: Sequence[BudgetRow], half_ev: float, u_ev: float) -> Check:
    """Return whether half_ev, a 95 % half-interval by linear propagation, holds by Monte Carlo.

    JCGM 101:2008, 8.1, with blocks of trials until the end of the interval is known to a fifth of
    the tolerance (8.2 with 7.9.4), or to less where the comparison is clear by then. Every source
    is symmetric about zero, so the 95 % point of |sum| is the end of the interval, from both tails.
    """
    tolerance = numerical_tolerance(u_ev)
    rng = np.random.default_rng(SEED)
    ends: list[float] = []
    while True:
        total = np.zeros(BLOCK)
        for row in rows:
            total += draw(row, rng, BLOCK)
        ends.append(quantile(np.abs(total), 0.95))
        if len(ends) < LEAST_BLOCKS:
            continue
        half = math.fsum(ends) / len(ends)
        apart = abs(half - half_ev)
        scatter = math.sqrt(
            math.fsum((end - half) ** 2 for end in ends) / (len(ends) * (len(ends) - 1))
        )
        clear = 2.0 * scatter <= tolerance and abs(apart - tolerance) > CLEAR_SIGMAS * scatter
        if clear or 2.0 * scatter <= 0.2 * tolerance or len(ends) >= MOST_BLOCKS:
            return Check(
                half_ev=half,
                apart_ev=apart,
                valid=apart <= tolerance,
                trials=BLOCK * len(ends),
            )


def draw(row: BudgetRow, rng: np.random.Generator, trials: int) -> NDArray[np.float64]:
    """Return draws (trials,) of one source about zero, times its sensitivity, in EV.

    A t row is drawn scaled and shifted, t_nu u (JCGM 101:2008, 6.4.9).
    """
    if row.distribution == "normal":
        values, size = rng.standard_normal(trials), row.u_ev
    elif row.distribution == "t":
        values, size = rng.standard_t(row.dof or math.inf, trials), row.u_ev
    else:
        values, size = unit_draws(row.distribution, rng, trials), row.half_width_ev or 0.0
    values *= row.sensitivity * size
    return values


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


def interval(
    value: float, rows: tuple[BudgetRow, ...], *, lower_bound: bool
) -> tuple[Estimate, tuple[Flag, ...]]:
    """Return the value with its 95 % interval after the GUM, held against a Monte Carlo of it.

    Where an end differs by more than the numerical tolerance (JCGM 101:2008, 8), the interval is
    the Monte Carlo one; with a flag where the digits shown differ.
    """
    u, dof = budget.combine(rows)
    linear = budget.expand(value, u, dof, lower_bound=lower_bound)
    half = 0.5 * (linear.high - linear.low)
    check = check_interval(rows, half, u)
    if check.valid:
        return linear, ()
    simulated = Estimate(
        value=value,
        u=u,
        low=value - check.half_ev,
        high=value + check.half_ev,
        lower_bound=lower_bound,
    )
    seen = check.apart_ev > 10.0 ** -budget.decimals(half)
    return simulated, (Flag(name="monte-carlo", size=check.apart_ev),) if seen else ()


def half_width_ev(rows: tuple[BudgetRow, ...]) -> float:
    """Return half the interval that these rows give, in EV."""
    found, _ = interval(0.0, rows, lower_bound=False)
    return found.high
