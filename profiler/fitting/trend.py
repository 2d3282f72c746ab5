"""Exposure errors that follow the order of the frames."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from profiler import standards
from profiler.fitting.line import fit_linear

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, kw_only=True)
class Trend:
    """Change of the light over the whole series, in EV, as the frame errors tell it."""

    change_ev: float
    u_ev: float

    @property
    def seen(self) -> bool:
        """Whether it is more than scatter and large enough to matter."""
        return abs(self.change_ev) > max(standards.TREND_EV, standards.TREND_SIGMAS * self.u_ev)


NO_TREND = Trend(change_ev=0.0, u_ev=0.0)


def find_trend(
    order: Sequence[NDArray[np.float64]], deviation_ev: Sequence[NDArray[np.float64]]
) -> Trend:
    """Return the straight trend of deviations over the order of the frames (0 first, 1 last).

    One (order, deviation) pair per ISO label, each with a level of its own, since labels are
    right or wrong on their own; nan deviations don't count.
    """
    rows, values = [], []
    for k, (when, deviation) in enumerate(zip(order, deviation_ev, strict=True)):
        for i in np.flatnonzero(np.isfinite(deviation)):
            levels = [0.0] * len(order)
            levels[k] = 1.0
            rows.append([float(when[i]), *levels])
            values.append(float(deviation[i]))
    design = np.array(rows)
    if design.size == 0:
        return NO_TREND
    design = design[:, [True, *(design[:, 1:].sum(axis=0) > 0.0)]]
    n, p = design.shape
    if n < p + 3 or np.linalg.matrix_rank(design) < p:
        return NO_TREND
    fit = fit_linear(design, values)
    return Trend(change_ev=float(fit.coefficients[0]), u_ev=float(fit.u[0]))
