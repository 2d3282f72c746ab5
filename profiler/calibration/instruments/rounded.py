"""What a meter really measured behind readings that its display rounded.

A reading r of a display with step s says that the meter's own value lay in r +- s/2. With v_k the
mean of what it measures at level k, and sigma its repeatability,

    P(r | v_k, sigma) = Phi((r + s/2 - v_k)/sigma) - Phi((r - s/2 - v_k)/sigma).

All v_k before looking are alike, sigma goes as 1/sigma (JCGM 101:2008, 6.4; Jeffreys). So equal
readings leave v_k anywhere in the step, and readings that fall to both sides of an edge tell it
more sharply than the step is wide.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

_LEAST_EV, _MOST_EV = 0.001, 0.5
_SIGMAS = 56
_FINEST_EV = 0.0025


@dataclass(frozen=True, kw_only=True)
class Spread:
    """Probability over a grid of values: value_ev (m,) even and rising, share (m,) of one."""

    value_ev: NDArray[np.float64]
    share: NDArray[np.float64]

    @property
    def mean(self) -> float:
        """Return the mean in EV."""
        return float(self.value_ev @ self.share)

    @property
    def u(self) -> float:
        """Return the standard deviation in EV."""
        return math.sqrt(max(float((self.value_ev - self.mean) ** 2 @ self.share), 0.0))


@dataclass(frozen=True, kw_only=True)
class Repeatability:
    """Standard deviation of one reading about the meter's mean, before the display rounds it.

    rms_ev: root of the expected square, which few readings widen; low_ev..high_ev: 95 %.
    """

    value_ev: float
    low_ev: float
    high_ev: float
    rms_ev: float
    dof: int


def behind_readings(
    readings_ev: Sequence[Sequence[float]], step_ev: float
) -> tuple[list[Spread], Repeatability]:
    """Return where the meter's own value lay at each level, and how it repeats itself.

    readings_ev: at each level, the readings taken anew there.
    """
    sigma = np.geomspace(_LEAST_EV, _MOST_EV, _SIGMAS)
    half = 0.5 * step_ev
    grids: list[NDArray[np.float64]] = []
    tables: list[NDArray[np.float64]] = []
    log_total = np.zeros(_SIGMAS)
    for values in readings_ev:
        shown, count = np.unique(np.round(np.array(values), 6), return_counts=True)
        spacing = max(_FINEST_EV, step_ev / 40.0)
        reach = max(step_ev, 4.0 * float(np.std(values)), 0.3) + 0.5 * float(np.ptp(shown))
        steps = math.ceil(reach / spacing)
        grid = float(shown.mean()) + spacing * np.arange(-steps, steps + 1)
        log_p = np.zeros((_SIGMAS, grid.size))
        for value, times in zip(shown, count, strict=True):
            above = (value + half - grid) / sigma[:, None]
            below = (value - half - grid) / sigma[:, None]
            if step_ev > 0.0:
                inside = _phi(above) - _phi(below)
            else:
                inside = np.exp(-0.5 * above**2) / sigma[:, None]
            log_p += times * np.log(np.maximum(inside, 1e-300))
        top = log_p.max(axis=1, keepdims=True)
        dense = np.exp(log_p - top)
        log_total += top[:, 0] + np.log(dense.sum(axis=1) * spacing)
        grids.append(np.asarray(grid, dtype=np.float64))
        tables.append(dense / dense.sum(axis=1, keepdims=True))
    weight = np.exp(log_total - log_total.max())
    weight /= weight.sum()
    spreads = [
        Spread(value_ev=grid, share=weight @ table)
        for grid, table in zip(grids, tables, strict=True)
    ]
    cumulative = np.cumsum(weight) - 0.5 * weight
    low, middle, high = np.exp(np.interp([0.025, 0.5, 0.975], cumulative, np.log(sigma)))
    return spreads, Repeatability(
        value_ev=float(middle),
        low_ev=float(low),
        high_ev=float(high),
        rms_ev=math.sqrt(float(weight @ sigma**2)),
        dof=sum(len(values) - 1 for values in readings_ev),
    )


def interval(spread: Spread, scale: float, u_ev: float) -> tuple[float, float, float, float]:
    """Return value, u and the ends of 95 % of scale * spread plus a normal error of u_ev.

    The error's mean is zero; the ends leave 2.5 % outside on either side.
    """
    value = scale * spread.mean
    u = math.hypot(scale * spread.u, u_ev)
    points = scale * spread.value_ev
    soft = max(u_ev, abs(scale) * 0.5 * float(spread.value_ev[1] - spread.value_ev[0]))
    ends = []
    for wanted in (0.025, 0.975):
        low, high = value - 8.0 * u - soft, value + 8.0 * u + soft
        for _ in range(50):
            at = 0.5 * (low + high)
            below = float(spread.share @ _phi((at - points) / soft))
            low, high = (at, high) if below < wanted else (low, at)
        ends.append(0.5 * (low + high))
    return value, u, min(ends[0], value), max(ends[1], value)


def difference(one: Spread, other: Spread) -> Spread:
    """Return the spread of one less other, both independent."""
    spacing = min(float(each.value_ev[1] - each.value_ev[0]) for each in (one, other))
    one, other = _regrid(one, spacing), _regrid(other, spacing)
    start = float(one.value_ev[0] - other.value_ev[-1])
    share = np.convolve(one.share, other.share[::-1])
    grid = np.asarray(start + spacing * np.arange(share.size), dtype=np.float64)
    return Spread(value_ev=grid, share=share)


def _regrid(spread: Spread, spacing_ev: float) -> Spread:
    """The same spread on a grid of another spacing."""
    first, last = float(spread.value_ev[0]), float(spread.value_ev[-1])
    count = math.floor((last - first) / spacing_ev + 1e-9) + 1
    grid = np.asarray(first + spacing_ev * np.arange(count), dtype=np.float64)
    share = np.interp(grid, spread.value_ev, spread.share)
    return Spread(value_ev=grid, share=share / share.sum())


def _phi(z: NDArray[np.float64]) -> NDArray[np.float64]:
    """Standard normal distribution function, from a table to 1e-7 between -8 and 8."""
    grid, table = _phi_table()
    return np.asarray(np.interp(z, grid, table))


@cache
def _phi_table() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    grid = np.linspace(-8.0, 8.0, 16001)
    return grid, np.array([0.5 * math.erfc(-z / math.sqrt(2.0)) for z in grid])
