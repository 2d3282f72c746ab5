"""Probabilities of chance: tails of chi-squared and Student's t, corrected for many tests."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist
from typing import Final

_NORMAL: Final = NormalDist()
MAD_TO_SD: Final = 1.0 / _NORMAL.inv_cdf(0.75)
"""Standard deviation over median absolute deviation of normal data: 1.4826 (derived)."""
MAD_EFFICIENCY: Final = 0.37
"""Degrees of freedom of a spread from the median absolute deviation, as a part of n - 1 (known
asymptotic efficiency of the estimator, from memory)."""


def student_cdf(t: float, dof: float = math.inf) -> float:
    """Return the cumulative probability of Student's t, of the normal for infinite dof.

    Broken degrees of freedom are cut down to whole ones (JCGM 100:2008, G.4.1), as they are for
    the coverage factor.

    >>> round(student_cdf(2.0, 5.0), 4)
    0.949
    """
    from scipy.special import stdtr

    return float(stdtr(dof if math.isinf(dof) else max(1, math.floor(dof)), t))


def two_sided(z: float, dof: float = math.inf) -> float:
    """Return the probability that chance alone gives |z| or more."""
    return 2.0 * student_cdf(-abs(z), dof)


def chi_squared_tail(value: float, dof: int) -> float:
    """Return the probability that chance alone gives this chi-squared or more."""
    from scipy.special import chdtrc

    return float(chdtrc(dof, value)) if dof >= 1 else 1.0


def holm(probabilities: Sequence[float]) -> list[float]:
    """Return probabilities corrected for their number, step by step (Holm 1979)."""
    order = sorted(range(len(probabilities)), key=lambda i: probabilities[i])
    out = [1.0] * len(probabilities)
    worst = 0.0
    for rank, i in enumerate(order):
        worst = max(worst, min(1.0, (len(probabilities) - rank) * probabilities[i]))
        out[i] = worst
    return out
