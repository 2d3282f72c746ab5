"""Quantiles of the normal and of Student's t distribution without a heavy import."""

from __future__ import annotations

import math
from statistics import NormalDist

_NORMAL = NormalDist()


def normal_quantile(probability: float) -> float:
    """Return the standard normal quantile at `probability` (0 < p < 1)."""
    return _NORMAL.inv_cdf(probability)


def t_quantile(probability: float, dof: float) -> float:
    """Return the quantile of Student's t with `dof` degrees of freedom (real, 2 or more).

    G. W. Hill, "Algorithm 396: Student's t-quantiles", Comm. ACM 13 (1970) 619; good to 1e-3 of
    the quantile at 2 degrees of freedom, 1e-5 from 3 up. Infinite dof give the normal.
    """
    if not 0.0 < probability < 1.0:
        raise ValueError(f"a probability lies between 0 and 1, not {probability}")
    if not dof >= 2.0:
        raise ValueError(f"at least two degrees of freedom are needed, not {dof}")
    if probability < 0.5:
        return -t_quantile(1.0 - probability, dof)
    if probability == 0.5:
        return 0.0
    if dof > 1e7:
        return normal_quantile(probability)
    tail = 2.0 * (1.0 - probability)
    a = 1.0 / (dof - 0.5)
    b = 48.0 / a**2
    c = ((20700.0 * a / b - 98.0) * a - 16.0) * a + 96.36
    d = ((94.5 / (b + c) - 3.0) / b + 1.0) * math.sqrt(a * math.pi / 2.0) * dof
    y = (d * tail) ** (2.0 / dof)
    if y > 0.05 + a:
        x = normal_quantile(0.5 * tail)
        y = x * x
        if dof < 5.0:
            c += 0.3 * (dof - 4.5) * (x + 0.6)
        c = (((0.05 * d * x - 5.0) * x - 7.0) * x - 2.0) * x + b + c
        y = (((((0.4 * y + 6.3) * y + 36.0) * y + 94.5) / c - y - 3.0) / b + 1.0) * x
        y = math.expm1(a * y * y)
    else:
        y = (
            (
                1.0 / (((dof + 6.0) / (dof * y) - 0.089 * d - 0.822) * (dof + 2.0) * 3.0)
                + 0.5 / (dof + 4.0)
            )
            * y
            - 1.0
        ) * (dof + 1.0) / (dof + 2.0) + 1.0 / y
    return math.sqrt(dof * y)
