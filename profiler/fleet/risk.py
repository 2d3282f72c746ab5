"""Risk of false verdicts over a population of bodies, for a stated process and rule."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from statistics import NormalDist
from typing import Final

from profiler.fleet.rules import Limits

_STEPS: Final = 4000
_REACH: Final = 8.0
"""Standard deviations to either side over which the population is summed."""


@dataclass(frozen=True, kw_only=True)
class Risk:
    """Shares of all decisions: accepted though out, rejected though in, and left undecided.

    accepted: share of "in"; false_in_accepted: the part of those that is false.
    """

    false_accept: float
    false_reject: float
    undecided: float
    accepted: float

    @property
    def false_in_accepted(self) -> float:
        """Return the part of the accepted that lies outside the limits."""
        return self.false_accept / self.accepted if self.accepted else 0.0


def population_risk(
    limits: Limits, *, centre_ev: float, spread_ev: float, u_ev: float, guard_ev: float
) -> Risk:
    """Return the risks for true values N(centre, spread) measured with N(0, u).

    "In" within the limits drawn in by the guard band, "out" beyond the limits moved out by it
    (JCGM 106:2012, 9.5, from memory: the joint probability of true and measured values, summed).
    """
    true_values, error = NormalDist(centre_ev, spread_ev), NormalDist(0.0, u_ev)
    low, high = limits.low + guard_ev, limits.high - guard_ev
    accept = reject = false_accept = false_reject = 0.0
    step = 2.0 * _REACH * spread_ev / _STEPS
    edges = [centre_ev - _REACH * spread_ev + step * k for k in range(_STEPS + 1)]
    edges = sorted({*edges, *(x for x in (limits.low, limits.high) if math.isfinite(x))})
    for a, b in pairwise(edges):
        share = true_values.cdf(b) - true_values.cdf(a)
        truth = 0.5 * (a + b)
        inside = max(0.0, _cdf(error, high - truth) - _cdf(error, low - truth))
        outside = 1.0 - _cdf(error, limits.high + guard_ev - truth)
        outside += _cdf(error, limits.low - guard_ev - truth)
        accept += share * inside
        reject += share * outside
        if limits.low <= truth <= limits.high:
            false_reject += share * outside
        else:
            false_accept += share * inside
    return Risk(
        false_accept=false_accept,
        false_reject=false_reject,
        undecided=max(0.0, 1.0 - accept - reject),
        accepted=accept,
    )


def _cdf(distribution: NormalDist, x: float) -> float:
    if math.isinf(x):
        return 1.0 if x > 0.0 else 0.0
    return distribution.cdf(x)
