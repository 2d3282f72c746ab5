"""The uncertainty budget of a result, after the GUM (JCGM 100:2008)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from profiler.calibration.fit.student import t_quantile
from profiler.records import Estimate
from profiler.results import BudgetRow, Source

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

RECTANGULAR = 1.0 / math.sqrt(3.0)
"""Standard uncertainty of a rectangle over its half-width (JCGM 100:2008, 4.3.7)."""
TRIANGULAR = 1.0 / math.sqrt(6.0)
"""... of a triangle (JCGM 100:2008, 4.3.9)."""
ARCSINE = 1.0 / math.sqrt(2.0)
"""... of a U-shaped, arcsine distribution (JCGM 101:2008, 6.4.6)."""
_ROUNDED = 0.05  # 18.998 is 19.0 as printed, before it is cut down
_ONE_READING = 0.8  # between the shares of one reading and of two, 1 and 0.71
_SHARE = {"rectangular": RECTANGULAR, "triangular": TRIANGULAR, "arcsine": ARCSINE}


def bounded(
    source: Source,
    half_width_ev: float,
    basis: str,
    *,
    distribution: str = "rectangular",
    sensitivity: float = 1.0,
) -> BudgetRow:
    """Return a type B row for a source known by its limits +-half_width_ev."""
    u = abs(half_width_ev) * _SHARE[distribution]
    return BudgetRow(
        source=source,
        type="B",
        distribution=distribution,  # type: ignore[arg-type]
        half_width_ev=abs(half_width_ev),
        u_ev=u,
        sensitivity=sensitivity,
        dof=None,
        contribution_ev=abs(sensitivity) * u,
        basis=basis,
    )


def averaged(source: Source, half_width_ev: float, basis: str, *, share: float) -> BudgetRow:
    """Return the row of a mean of readings, each within +-half_width_ev, with share of one's left.

    One reading is rectangular; the mean of several is close to normal (JCGM 100:2008, G.2.2), with
    a 95 % interval a fifth wider than that of a rectangle of the same standard uncertainty.
    """
    row = bounded(source, half_width_ev, basis, sensitivity=share)
    return row if share > _ONE_READING else replace(row, distribution="normal")


def stated(
    source: Source,
    u_ev: float,
    basis: str,
    *,
    dof: float | None = None,
    sensitivity: float = 1.0,
) -> BudgetRow:
    """Return a row for a source known by its standard uncertainty; with dof it is type A."""
    return BudgetRow(
        source=source,
        type="B" if dof is None else "A",
        distribution="normal" if dof is None else "t",
        half_width_ev=None,
        u_ev=u_ev,
        sensitivity=sensitivity,
        dof=dof,
        contribution_ev=abs(sensitivity) * u_ev,
        basis=basis,
    )


def combine(rows: Sequence[BudgetRow]) -> tuple[float, float]:
    """Return the combined standard uncertainty (EV) and its effective degrees of freedom.

    u_c^2 = sum (c_i u_i)^2 of independent sources (JCGM 100:2008, 5.1.2); nu_eff after
    Welch-Satterthwaite, u_c^4 / sum((c_i u_i)^4 / nu_i), infinite where no source has few (G.4).
    """
    variance = math.fsum(row.contribution_ev**2 for row in rows)
    fourth = math.fsum(row.contribution_ev**4 / row.dof for row in rows if row.dof is not None)
    return math.sqrt(variance), variance**2 / fourth if fourth > 0.0 else math.inf


def propagate(
    jacobian: NDArray[np.float64], covariance: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the covariance (k, k) of k quantities from that of p correlated inputs (p, p).

    J C J^T, the law of propagation with correlations (JCGM 100:2008, 5.2.2 and H.2); jacobian
    (k, p).
    """
    product: NDArray[np.float64] = jacobian @ covariance @ jacobian.T
    return product


def coverage_factor(dof: float, probability: float = 0.95) -> float:
    """Return k for a two-sided interval: Student's t at dof cut down to whole ones (GUM G.4)."""
    whole = dof if math.isinf(dof) else max(2.0, math.floor(dof + _ROUNDED))
    return t_quantile(0.5 + 0.5 * probability, whole)


def expand(value: float, u: float, dof: float, *, lower_bound: bool = False) -> Estimate:
    """Return the estimate with its 95 % interval, symmetric about the value."""
    half = coverage_factor(dof) * u
    return Estimate(value=value, u=u, low=value - half, high=value + half, lower_bound=lower_bound)


def decimals(half_width: float) -> int:
    """Return how many decimals a number in EV deserves: the place of its uncertainty, 1 to 3."""
    if not half_width > 0.0:
        return 3
    return min(3, max(1, -math.floor(math.log10(half_width / 0.95) + 1e-12)))
