"""Probabilities of chance: tails of chi-squared and Student's t, corrected for many tests."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist
from typing import Final

from profiler.fleet.rules import student_cdf

_NORMAL: Final = NormalDist()
MAD_TO_SD: Final = 1.0 / _NORMAL.inv_cdf(0.75)
"""Standard deviation over median absolute deviation of normal data: 1.4826 (derived)."""
MAD_EFFICIENCY: Final = 0.37
"""Degrees of freedom of a spread from the median absolute deviation, as a part of n - 1 (known
asymptotic efficiency of the estimator, from memory)."""


def two_sided(z: float, dof: float = math.inf) -> float:
    """Return the probability that chance alone gives |z| or more."""
    return 2.0 * student_cdf(-abs(z), dof)


def chi_squared_tail(value: float, dof: int) -> float:
    """Return the probability that chance alone gives this chi-squared or more.

    Cube-root normal approximation (Wilson and Hilferty 1931), good to 0.01 of a probability.
    """
    if dof < 1:
        return 1.0
    spread = 2.0 / (9.0 * dof)
    return 1.0 - _NORMAL.cdf(((value / dof) ** (1.0 / 3.0) - 1.0 + spread) / math.sqrt(spread))


def holm(probabilities: Sequence[float]) -> list[float]:
    """Return probabilities corrected for their number, step by step (Holm 1979)."""
    order = sorted(range(len(probabilities)), key=lambda i: probabilities[i])
    out = [1.0] * len(probabilities)
    worst = 0.0
    for rank, i in enumerate(order):
        worst = max(worst, min(1.0, (len(probabilities) - rank) * probabilities[i]))
        out[i] = worst
    return out
