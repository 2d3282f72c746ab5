"""Medians and quantiles by partition: numpy's own pull in numpy.ma, 20 ms that a re-fit hasn't."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

MAD_TO_SD = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation."""


def quantile(values: ArrayLike, probability: float) -> float:
    """Return the quantile of values, linear between neighbours as numpy.quantile has it."""
    return float(quantile_rows(np.asarray(values, dtype=np.float64)[:, None], probability)[0])


def median(values: ArrayLike) -> float:
    """Return the median of values."""
    return quantile(values, 0.5)


def quantile_rows(values: NDArray[np.float64], probability: float) -> NDArray[np.float64]:
    """Return the quantile over the first axis of an array (n, c), as (c,)."""
    if values.shape[0] == 0:
        raise ValueError("no values, no quantile")
    place = probability * (values.shape[0] - 1)
    below = int(place)
    above = min(below + 1, values.shape[0] - 1)
    ordered = np.partition(values, (below, above), axis=0)
    step = ordered[above] - ordered[below]
    return np.asarray(ordered[below] + (place - below) * step, dtype=np.float64)
