"""How much a light has likely changed over a series."""

from __future__ import annotations

import math

from profiler import standards


def likely_change_ev(change_ev: float, u_ev: float, dof: float = math.inf) -> float:
    """Return the root mean square of a drift that was measured as change_ev +- u_ev.

    Before looking, most lights are steady and few drift (standards.STEADY_SHARE, STEADY_EV,
    DRIFTING_EV, both normal); the measurement weighs the two (Bayes), as Student's t with dof
    degrees of freedom, since a few frames scatter further than their own scatter says.
    """
    if not math.isfinite(u_ev):
        return math.sqrt(
            standards.STEADY_SHARE * standards.STEADY_EV**2
            + (1.0 - standards.STEADY_SHARE) * standards.DRIFTING_EV**2
        )
    weights, squares = [], []
    for share, size in (
        (standards.STEADY_SHARE, standards.STEADY_EV),
        (1.0 - standards.STEADY_SHARE, standards.DRIFTING_EV),
    ):
        variance = size**2 + u_ev**2
        weights.append(share * _density(change_ev**2 / variance, dof) / math.sqrt(variance))
        kept = size**2 / variance
        squares.append((kept * change_ev) ** 2 + kept * u_ev**2)
    total = math.fsum(weights)
    if total <= 0.0:
        return math.hypot(change_ev, u_ev)
    mean = math.fsum(w * s for w, s in zip(weights, squares, strict=True)) / total
    return math.sqrt(mean)


def _density(square: float, dof: float) -> float:
    """Student's density at a squared deviation, but for a constant factor."""
    if math.isinf(dof):
        return math.exp(-0.5 * square)
    return float((1.0 + square / dof) ** (-0.5 * (dof + 1.0)))
