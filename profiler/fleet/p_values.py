"""Probabilities of chance: tails of chi-squared and Student's t, corrected for many tests."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from statistics import NormalDist
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_NORMAL: Final = NormalDist()
_ROUNDED: Final = 0.05
"""So much is forgiven before degrees of freedom are cut down, as for the coverage factor."""
MAD_TO_SD: Final = 1.0 / _NORMAL.inv_cdf(0.75)
"""Standard deviation over median absolute deviation of normal data: 1.4826 (derived)."""
MAD_EFFICIENCY: Final = 0.37
"""Degrees of freedom of a spread from the median absolute deviation, as a part of n - 1 (known
asymptotic efficiency of the estimator, from memory)."""


def student_cdf(t: float, dof: float = math.inf) -> float:
    """Return the cumulative probability of Student's t, of the normal for infinite dof.

    >>> round(student_cdf(2.0, 5.0), 4)
    0.949
    """
    import numpy as np

    return float(student_cdfs(np.array([t]), np.array([dof]))[0])


def student_cdfs(t: NDArray[np.float64], dof: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the cumulative probabilities of Student's t, of the normal for infinite dof.

    Broken degrees of freedom are cut down to whole ones (JCGM 100:2008, G.4.1), as they are for
    the coverage factor.
    """
    from scipy.special import ndtr, stdtr

    return _by_dof(dof, lambda which, whole: stdtr(whole, t[which]), lambda which: ndtr(t[which]))


def student_quantiles(probability: float, dof: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the quantiles of Student's t at one probability, the normal's for infinite dof."""
    from scipy.special import ndtri, stdtrit

    return _by_dof(dof, lambda _, whole: stdtrit(whole, probability), lambda _: ndtri(probability))


def _by_dof(
    dof: NDArray[np.float64],
    student: Callable[[NDArray[np.bool_], NDArray[np.float64]], Any],
    normal: Callable[[NDArray[np.bool_]], Any],
) -> NDArray[np.float64]:
    import numpy as np

    out = np.empty(dof.shape)
    few = np.isfinite(dof)
    out[~few] = normal(~few)
    if few.any():
        out[few] = student(few, np.maximum(1.0, np.floor(dof[few] + _ROUNDED)))
    return out


def two_sided(z: float, dof: float = math.inf) -> float:
    """Return the probability that chance alone gives |z| or more."""
    return 2.0 * student_cdf(-abs(z), dof)


def chi_squared_tail(value: float, dof: int) -> float:
    """Return the probability that chance alone gives this chi-squared or more."""
    from scipy.special import chdtrc

    return float(chdtrc(dof, value)) if dof >= 1 else 1.0


def false_discovery(probabilities: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return probabilities corrected so that a part of those below a limit is false, no more.

    Of all that are counted from 0.05 down, 5 % at most come by chance on average, with independent
    or positively dependent ones (Benjamini and Hochberg 1995, J. R. Stat. Soc. B 57). Importing
    `scipy.stats`, which has the same, takes a second.
    """
    import numpy as np

    n = probabilities.size
    order = np.argsort(probabilities)[::-1]
    steps = probabilities[order] * n / np.arange(n, 0, -1)
    out = np.empty(n)
    out[order] = np.minimum(1.0, np.minimum.accumulate(steps)) if n else steps
    return out


def holm(probabilities: Sequence[float]) -> list[float]:
    """Return probabilities corrected for their number, step by step (Holm 1979)."""
    order = sorted(range(len(probabilities)), key=lambda i: probabilities[i])
    out = [1.0] * len(probabilities)
    worst = 0.0
    for rank, i in enumerate(order):
        worst = max(worst, min(1.0, (len(probabilities) - rank) * probabilities[i]))
        out[i] = worst
    return out
