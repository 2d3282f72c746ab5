"""How well a bench repeats, learnt from the scatter of all bodies about their straight lines."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LEAST_DOF: Final = 10.0
"""From so many degrees of freedom on a bench's own history counts more than the budgets (our
choice, no source)."""
LEAST_HISTORIES: Final = 30
"""Fewer histories don't show whether all bodies scatter alike (our choice, no source)."""
LEAST_EV: Final = 0.005
"""No bench repeats better than this: readings that fall on one step of the display show no scatter
(our choice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Bench:
    """The repeatability of the calibrations by one meter, as their histories show it.

    scale: variance seen over the variance that the budgets give; repeatability_ev: standard
    deviation of one calibration; budget_ev: the same by the budgets. dof: of the scale, fewer where
    all bodies of a day, or all ISO labels of a body, err together. prior_dof: how alike the bodies
    scatter, infinite where all do; the scatter of one body counts with its own degrees of freedom
    beside it. bodies: that told it.
    """

    scale: float
    repeatability_ev: float
    budget_ev: float
    dof: float
    prior_dof: float
    bodies: int

    def variance_of(
        self, chi_squared: NDArray[np.float64], dof: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the scale of each history, with its degrees of freedom.

        (d0 s0^2 + d s^2) / (d0 + d): the scatter of one history steadied by that of all (Smyth
        2004, Stat. Appl. Genet. Mol. Biol. 3, art. 3). No less than that of all: of many bodies
        some lie on their line by chance.
        """
        import numpy as np

        if math.isinf(self.prior_dof):
            return np.full(dof.shape, self.scale), np.full(dof.shape, self.dof)
        steadied = (self.prior_dof * self.scale + chi_squared) / (self.prior_dof + dof)
        scale = np.maximum(steadied, self.scale)
        return scale, np.minimum(self.prior_dof + dof, self.dof)


@dataclass(frozen=True, kw_only=True)
class Scatter:
    """What is left of each calibration about the straight line of its history, in its own u.

    history, body, day: number of each, for each of n calibrations; left: (n,) residuals over their
    standard uncertainty; own_ev2: (n,) variances by the budget. dof: of each history.
    """

    history: NDArray[np.int64]
    body: NDArray[np.int64]
    day: NDArray[np.int64]
    left: NDArray[np.float64]
    own_ev2: NDArray[np.float64]
    dof: NDArray[np.float64]

    def only(self, histories: NDArray[np.bool_]) -> Scatter:
        """Return that of some histories."""
        import numpy as np

        rows = histories[self.history]
        number = np.cumsum(histories) - 1
        return Scatter(
            history=number[self.history[rows]],
            body=self.body[rows],
            day=self.day[rows],
            left=self.left[rows],
            own_ev2=self.own_ev2[rows],
            dof=self.dof[histories],
        )


def bench_of(scatter: Scatter) -> Bench | None:
    """Return the repeatability that histories show; None where they are too few to tell.

    Variance components: between the bodies' lines (taken out), between the days that bodies share,
    between the body-days that ISO labels share, within. The whole counts, its degrees of freedom
    by Welch-Satterthwaite (JCGM 100:2008, G.4) from the component that has the fewest.
    """
    import numpy as np

    squares: NDArray[np.float64] = np.bincount(
        scatter.history, scatter.left**2, minlength=scatter.dof.size
    ).astype(np.float64)
    told = scatter.dof > 0.0
    total = float(scatter.dof.sum())
    if total < LEAST_DOF:
        return None
    free = total / scatter.left.size  # what fitting the lines has left of each calibration
    body_day = np.unique(np.column_stack([scatter.body, scatter.day]), axis=0, return_inverse=True)
    dof = min(
        _satterthwaite(scatter.left, scatter.day, free),
        _satterthwaite(scatter.left, body_day[1].ravel(), free),
    )
    if dof < LEAST_DOF:
        return None
    own = float(scatter.own_ev2.mean())
    least = LEAST_EV**2 / own
    prior_dof, scale = _prior(squares[told], scatter.dof[told])
    if math.isinf(prior_dof):
        scale = float(squares.sum()) / total
    scale = max(scale, least)
    return Bench(
        scale=scale,
        repeatability_ev=math.sqrt(scale * own),
        budget_ev=math.sqrt(own),
        dof=dof,
        prior_dof=prior_dof,
        bodies=int(np.unique(scatter.body).size),
    )


def _satterthwaite(left: NDArray[np.float64], cluster: NDArray[np.int64], free: float) -> float:
    """Degrees of freedom of the whole scatter where members of a cluster may err together."""
    import numpy as np

    count = np.bincount(cluster)
    sums = np.bincount(cluster, left)
    several = count > 1
    between = float((sums[several] ** 2 / count[several]).sum())
    within = float((left**2).sum()) - between
    total = free * left.size
    dof_between = free * int(several.sum())
    dof_within = total - dof_between
    if not several.any():
        return total
    if dof_within <= 0.0:
        return dof_between
    within = max(within, 1e-12 * between)
    if between + within <= 0.0:
        return total
    return (between + within) ** 2 / (between**2 / dof_between + within**2 / dof_within)


def _prior(squares: NDArray[np.float64], dof: NDArray[np.float64]) -> tuple[float, float]:
    """How alike the scatter of histories is, as degrees of freedom, and its typical size.

    From mean and variance of log s^2 over the histories (Smyth 2004, eqs. 6 to 8).
    """
    import numpy as np
    from scipy.special import digamma, polygamma

    s2 = squares / dof
    middle = float(np.median(s2))
    if s2.size < LEAST_HISTORIES or middle <= 0.0:
        return math.inf, float(squares.sum() / dof.sum())
    logs = np.log(np.maximum(s2, 1e-5 * middle)) - digamma(dof / 2.0) + np.log(dof / 2.0)
    beyond = float(logs.var(ddof=1) - polygamma(1, dof / 2.0).mean())
    if beyond <= 0.0:
        return math.inf, float(squares.sum() / dof.sum())
    half = _inverse_trigamma(beyond)
    return 2.0 * half, float(np.exp(logs.mean() + digamma(half) - math.log(half)))


def _inverse_trigamma(value: float) -> float:
    """y with trigamma(y) = value, by Newton's method on its reciprocal (Smyth 2004, appendix)."""
    from scipy.special import polygamma

    y = 0.5 + 1.0 / value
    for _ in range(50):
        now = float(polygamma(1, y))
        step = now * (1.0 - now / value) / float(polygamma(2, y))
        y += step
        if abs(step) < 1e-9 * y:
            break
    return y
