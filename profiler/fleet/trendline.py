"""A straight line through the calibrations of one body, errors in common allowed for."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final

from profiler.calibration.fit.budget import coverage_factor
from profiler.errors import ProfileError
from profiler.fleet import p_values
from profiler.fleet.rows import Row

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

YEAR_DAYS: Final = 365.25


@dataclass(frozen=True, kw_only=True)
class Trend:
    """Straight trend: slope in EV per year with its uncertainty, level at the last calibration.

    probability: of such a slope by chance, corrected for the number of histories looked at.
    birge_ratio: scatter about the line over what the uncertainties explain.
    """

    slope_ev_per_year: float
    u_ev_per_year: float
    low_ev_per_year: float
    high_ev_per_year: float
    level_ev: float
    level_u_ev: float
    correlation: float
    birge_ratio: float
    probability: float
    significant: bool


def fit_trend(rows: list[Row], y: list[float], matrix: NDArray[np.float64]) -> Trend | None:
    """Return the straight line through values y of rows, oldest first; None for a single date.

    Generalised least squares; scatter beyond the uncertainties widens them: cov = (X^T V^-1 X)^-1,
    times the Birge ratio squared where that exceeds 1.
    """
    import numpy as np

    days = np.array([day_of(row).toordinal() for row in rows], dtype=np.float64)
    if np.unique(days).size < 2:
        return None
    x = (days - days[-1]) / YEAR_DAYS
    design = np.column_stack([np.ones_like(x), x])
    inverse = np.linalg.inv(matrix)
    cov = np.linalg.inv(design.T @ inverse @ design)
    level, slope = cov @ design.T @ inverse @ np.array(y)
    left = np.array(y) - design @ np.array([level, slope])
    dof = len(rows) - 2
    birge = math.sqrt(float(left @ inverse @ left) / dof) if dof > 0 else 1.0
    widen = max(1.0, birge)
    u_level, u_slope = (widen * math.sqrt(float(cov[i, i])) for i in (0, 1))
    free = math.inf if birge <= 1.0 else float(dof)
    k = coverage_factor(max(2.0, free))
    return Trend(
        slope_ev_per_year=float(slope),
        u_ev_per_year=u_slope,
        low_ev_per_year=float(slope) - k * u_slope,
        high_ev_per_year=float(slope) + k * u_slope,
        level_ev=float(level),
        level_u_ev=u_level,
        correlation=float(cov[0, 1] / math.sqrt(cov[0, 0] * cov[1, 1])),
        birge_ratio=birge,
        probability=p_values.two_sided(float(slope) / u_slope, free),
        significant=False,
    )


def day_of(row: Row) -> date:
    """Return the date of a row; ProfileError where it has none."""
    try:
        return date.fromisoformat(row.date)
    except ValueError as error:
        raise ProfileError(
            f"{row.date!r} isn't a date", f"series {row.series}", "Write it as 2026-03-01"
        ) from error
