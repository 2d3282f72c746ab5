"""Linear least squares with the covariance of what it found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True, kw_only=True)
class LinearFit:
    """Coefficients (p,), their covariance (p, p), residual standard deviation and its dof."""

    coefficients: NDArray[np.float64]
    covariance: NDArray[np.float64]
    residual_sd: float
    dof: int

    @property
    def u(self) -> NDArray[np.float64]:
        """Standard deviations of the coefficients."""
        return np.sqrt(np.diag(self.covariance))


def fit_linear(
    design: ArrayLike,
    response: ArrayLike,
    *,
    u: ArrayLike | None = None,
) -> LinearFit:
    """Return the least-squares fit of response (n,) on design (n, p).

    Without `u` the residual scatter sets the covariance (n > p needed); with `u`, the standard
    uncertainty of each response, the covariance follows from `u` alone. QR on columns brought to
    unit length, so that powers of a large predictor keep their digits.
    """
    a = np.atleast_2d(np.asarray(design, dtype=np.float64))
    y = np.asarray(response, dtype=np.float64)
    n, p = a.shape
    if y.shape != (n,):
        raise ValueError(f"response has shape {y.shape}, design has {n} rows")
    if n < p or (u is None and n == p):
        raise ValueError(f"{n} points can't carry {p} coefficients and a scatter")
    weight = 1.0 / np.broadcast_to(np.asarray(1.0 if u is None else u, dtype=np.float64), (n,))
    weighted = a * weight[:, None]
    scale = np.sqrt((weighted * weighted).sum(axis=0))
    if not np.all(scale > 0.0):
        raise ValueError("a column of the design holds only zeros")
    unit = weighted / scale
    q, r = np.linalg.qr(unit)
    target = y * weight
    solution = np.linalg.solve(r, q.T @ target)
    # one step of refinement recovers the digits lost in the factorisation
    remainder = target - unit @ solution
    solution = solution + np.linalg.solve(r, q.T @ remainder)
    coefficients = solution / scale
    residual = y - a @ coefficients
    dof = n - p
    variance = float(np.sum((residual * weight) ** 2) / dof) if dof else 0.0
    r_inverse = np.linalg.solve(r, np.eye(p)) / scale[:, None]
    covariance = r_inverse @ r_inverse.T * (variance if u is None else 1.0)
    return LinearFit(
        coefficients=coefficients,
        covariance=covariance,
        residual_sd=float(np.sqrt(variance)),
        dof=dof,
    )
