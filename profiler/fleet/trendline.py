"""A straight line through the calibrations of one body, errors in common allowed for."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from profiler.calibration.fit.budget import coverage_factor
from profiler.fleet import p_values
from profiler.fleet.bench import Bench

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

YEAR_DAYS: Final = 365.25


@dataclass(frozen=True, kw_only=True)
class Trend:
    """Straight trend: slope in EV per year with its uncertainty, level at the last calibration.

    dof: of both uncertainties. probability: of such a slope by chance, corrected for the number of
    histories looked at. birge_ratio: scatter about the line over what the uncertainties explain.
    """

    slope_ev_per_year: float
    u_ev_per_year: float
    low_ev_per_year: float
    high_ev_per_year: float
    level_ev: float
    level_u_ev: float
    correlation: float
    dof: float
    birge_ratio: float
    probability: float
    significant: bool


@dataclass(frozen=True, kw_only=True)
class Lines:
    """Straight lines through g histories of m calibrations: level and slope (g, 2), covariances
    (g, 2, 2), what is left (g, m), chi-squared (g,) with dof degrees of freedom."""

    line: NDArray[np.float64]
    cov: NDArray[np.float64]
    left: NDArray[np.float64]
    chi_squared: NDArray[np.float64]
    dof: int


def fit_lines(
    days: NDArray[np.int64], y: NDArray[np.float64], matrix: NDArray[np.float64]
) -> Lines:
    """Return the straight lines through values y (g, m; EV) of days (g, m), oldest first.

    Generalised least squares: cov = (X^T V^-1 X)^-1, V the covariances (g, m, m).
    """
    import numpy as np

    x = (days - days[:, -1:]) / YEAR_DAYS
    design = np.stack([np.ones_like(x), x], axis=2)
    inverse = np.linalg.inv(matrix)
    across = np.swapaxes(design, 1, 2) @ inverse
    cov = np.linalg.inv(across @ design).astype(np.float64)
    line = (cov @ (across @ y[:, :, None]))[:, :, 0]
    left = y - (design @ line[:, :, None])[:, :, 0]
    chi_squared = (left * (inverse @ left[:, :, None])[:, :, 0]).sum(axis=1)
    return Lines(line=line, cov=cov, left=left, chi_squared=chi_squared, dof=y.shape[1] - 2)


def trend_of(lines: Lines, k: int, bench: Bench | None) -> Trend:
    """Return the k-th line as a trend, as uncertain as the bench repeats.

    Without a bench as uncertain as the budgets say; scatter beyond that widens it, by the Birge
    ratio where that exceeds 1.
    """
    import numpy as np

    level, slope = (float(value) for value in lines.line[k])
    cov, chi_squared = lines.cov[k], float(lines.chi_squared[k])
    birge = math.sqrt(chi_squared / lines.dof) if lines.dof > 0 else 1.0
    if bench is None:
        scale, free = max(1.0, birge) ** 2, math.inf if birge <= 1.0 else float(lines.dof)
    else:
        scales, dofs = bench.variance_of(np.array([chi_squared]), np.array([float(lines.dof)]))
        scale, free = float(scales[0]), float(dofs[0])
    u_level, u_slope = (math.sqrt(scale * float(cov[i, i])) for i in (0, 1))
    half = coverage_factor(max(2.0, free)) * u_slope
    return Trend(
        slope_ev_per_year=slope,
        u_ev_per_year=u_slope,
        low_ev_per_year=slope - half,
        high_ev_per_year=slope + half,
        level_ev=level,
        level_u_ev=u_level,
        correlation=float(cov[0, 1] / math.sqrt(cov[0, 0] * cov[1, 1])),
        dof=free,
        birge_ratio=birge,
        probability=p_values.two_sided(slope / u_slope, free),
        significant=False,
    )
