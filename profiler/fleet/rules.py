"""Decision rules for a measured value against tolerance limits."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING, Final, Literal

from profiler.fleet.columns import Values
from profiler.fleet.p_values import student_cdfs, student_quantiles

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Verdict = Literal["in", "out", "undecided"]
WORST: Final[tuple[Verdict, ...]] = ("out", "undecided", "in")
_OUT, _UNDECIDED, _IN = range(3)
NAMES: Final = ("simple", "guard-band", "conformance")
_NORMAL: Final = NormalDist()


@dataclass(frozen=True, kw_only=True)
class Rule:
    """How a verdict is found.

    simple: in where the value lies within the limits, whatever its uncertainty (ILAC-G8:09/2019,
    binary, no guard band). guard-band: the limits are drawn in by guard * U for "in" and moved out
    by as much for "out" (ILAC-G8:09/2019; 1 by default). conformance: in where the probability that
    the true value conforms is at least `probability`, out where the one that it doesn't is
    (JCGM 106:2012, 7; ISO 14253-1:2017 asks for 0.95).
    """

    name: Literal["simple", "guard-band", "conformance"] = "conformance"
    guard: float = 1.0
    probability: float = 0.95

    def __post_init__(self) -> None:
        if self.name not in NAMES:
            raise ValueError(f"{self.name!r} is none of {', '.join(NAMES)}")
        if not 0.0 <= self.guard <= 10.0 or not 0.5 < self.probability < 1.0:
            raise ValueError(f"guard {self.guard} or probability {self.probability} is no use")


@dataclass(frozen=True, kw_only=True)
class Limits:
    """Lower and upper limit of tolerance in EV; infinite where there is none."""

    low: float = -math.inf
    high: float = math.inf

    def __post_init__(self) -> None:
        if not self.low < self.high:
            raise ValueError(f"{self.low} isn't a limit below {self.high}")


@dataclass(frozen=True, kw_only=True)
class Decisions:
    """Decisions on many values: place of each verdict in WORST, probability (NaN where None)."""

    verdict: NDArray[np.int8]
    probability: NDArray[np.float64]
    guard_ev: NDArray[np.float64]


def decide(values: Values, limits: Limits, rule: Rule) -> Decisions:
    """Return the verdicts on many values under a rule.

    Of a lower bound only "at least so much" is known: it can be in where there is no upper limit,
    and out only beyond one.
    """
    import numpy as np

    bound = values.lower_bound
    exact = _decide_exact(values, limits, rule)
    if not bound.any():
        return exact
    verdict, guard = exact.verdict.copy(), exact.guard_ev.copy()
    if math.isfinite(limits.high):
        one = _decide_exact(values, Limits(high=limits.high), rule)
        verdict[bound] = np.where(one.verdict == _OUT, _OUT, _UNDECIDED)[bound]
    elif math.isfinite(limits.low):
        one = _decide_exact(values, Limits(low=limits.low), rule)
        verdict[bound] = np.where(one.verdict == _IN, _IN, _UNDECIDED)[bound]
    else:
        one = exact
        verdict[bound] = _IN
        guard[bound] = 0.0
    if one is not exact:
        guard[bound] = one.guard_ev[bound]
    return Decisions(
        verdict=verdict, probability=np.where(bound, np.nan, exact.probability), guard_ev=guard
    )


def _decide_exact(values: Values, limits: Limits, rule: Rule) -> Decisions:
    import numpy as np

    y = values.value
    p = _conformances(y, values.u, limits, values.dof)
    if rule.name == "conformance":
        verdict = np.where(
            p >= rule.probability, _IN, np.where(1.0 - p >= rule.probability, _OUT, _UNDECIDED)
        )
        guard = student_quantiles(rule.probability, values.dof) * values.u
        return Decisions(verdict=verdict.astype(np.int8), probability=p, guard_ev=guard)
    guard = values.expanded * (0.0 if rule.name == "simple" else rule.guard)
    within = (limits.low + guard <= y) & (y <= limits.high - guard)
    beyond = ~((limits.low - guard <= y) & (y <= limits.high + guard))
    verdict = np.where(within, _IN, np.where(beyond | (rule.name == "simple"), _OUT, _UNDECIDED))
    return Decisions(verdict=verdict.astype(np.int8), probability=p, guard_ev=guard)


def _conformances(
    y: NDArray[np.float64], u: NDArray[np.float64], limits: Limits, dof: NDArray[np.float64]
) -> NDArray[np.float64]:
    import numpy as np

    known = u > 0.0
    safe = np.where(known, u, 1.0)
    high = student_cdfs((limits.high - y) / safe, dof)
    p = np.maximum(0.0, high - student_cdfs((limits.low - y) / safe, dof))
    sharp = ((limits.low <= y) & (y <= limits.high)).astype(np.float64)
    held: NDArray[np.float64] = np.where(known, p, sharp)
    return held


def worst_false_accept(guard: float, coverage: float = 1.959964) -> float:
    """Return the greatest probability of "in" for a true value on or beyond one limit.

    Phi(-guard * k) for a guard band of guard * U, U = k u (ILAC-G8:09/2019 prints 50 % for no guard
    band, 2.5 % for U, 5 % for 0.83 U).
    """
    return _NORMAL.cdf(-guard * coverage)


def stated_risk(rule: Rule) -> float:
    """Return the greatest risk of a false "in" that the rule allows at one limit."""
    if rule.name == "conformance":
        return 1.0 - rule.probability
    return worst_false_accept(0.0 if rule.name == "simple" else rule.guard)


def describe(rule: Rule) -> str:
    """Return the rule in one sentence, with the risk that it states."""
    risk = f"{100.0 * stated_risk(rule):.2g} %"
    if rule.name == "simple":
        return (
            "Simple acceptance: in where the value lies within the limits; at a limit a false "
            f"verdict has a probability of up to {risk} (ILAC-G8:09/2019)"
        )
    if rule.name == "guard-band":
        return (
            f"Guard band of {rule.guard:g} U, U the 95 % half-width: in where the value lies within"
            " the limits by as much, out where it lies beyond them by as much; a false verdict has "
            f"a probability of at most {risk} (ILAC-G8:09/2019)"
        )
    share = f"{100 * rule.probability:g} %"
    return (
        f"Conformance probability: in from {share} that the true value lies within the limits, out "
        f"from {share} that it doesn't; a false verdict has a probability of at most {risk} "
        "(JCGM 106:2012, ISO 14253-1:2017)"
    )
