"""How errors fall in this world: one function for each habit of shutters, irises and light."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Draw = Callable[[np.random.Generator, int], NDArray[np.float64]]


def logistic(sd: float) -> Draw:
    """Errors with tails a little longer than a normal's."""
    return lambda rng, n: rng.logistic(0.0, sd * np.sqrt(3.0) / np.pi, n)


def normal(sd: float) -> Draw:
    """Normal errors, where an efficiency is to be told."""
    return lambda rng, n: rng.normal(0.0, sd, n)


def student(scale: float, dof: float = 3.0) -> Draw:
    """Errors of a shutter that now and then is far off: Student's t."""
    return lambda rng, n: scale * rng.standard_t(dof, n)


def late(share: float, mean: float) -> Draw:
    """One-sided errors: a part of the frames is exposed too long, the others almost exactly."""
    return lambda rng, n: (
        np.where(rng.uniform(size=n) < share, rng.exponential(mean, n), 0.0)
        + rng.uniform(-0.02, 0.02, n)
    )


def lopsided(sd: float) -> Draw:
    """Errors of an iris that is set anew: a gamma's, skewed towards more light, mean 0."""
    return lambda rng, n: sd * (rng.gamma(4.0, 1.0, n) - 4.0) / 2.0


def two_sided(size: float) -> Draw:
    """Errors that are either too much or too little, seldom none."""
    return lambda rng, n: size * rng.choice([-1.0, 1.0], n) + rng.normal(0.0, 0.3 * size, n)


def course(rng: np.random.Generator, when: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the part of a drift that has happened at `when` (0 first, 1 last): no straight line.

    The light falls or rises faster at one end, and wavers by a tenth of the whole.
    """
    power = rng.uniform(0.7, 1.4)
    return when**power + 0.05 * np.sin(2.0 * np.pi * when * rng.uniform(0.5, 1.5))
