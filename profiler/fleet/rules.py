"""Decision rules for a measured value against tolerance limits."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final, Literal

from profiler.fleet.p_values import student_cdf
from profiler.fleet.rows import Value

Verdict = Literal["in", "out", "undecided"]
WORST: Final[tuple[Verdict, ...]] = ("out", "undecided", "in")
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
class Decision:
    """A verdict and the probability that the true value lies within the limits.

    None where the value is a lower bound, so that only one side is known. guard_ev: by how much the
    limits were drawn in.
    """

    verdict: Verdict
    probability: float | None
    guard_ev: float


def conformance(value: float, u: float, limits: Limits, dof: float = math.inf) -> float:
    """Return the probability that the true value lies within the limits.

    p = F((high - y)/u) - F((low - y)/u), F the normal or Student's t distribution (JCGM 106:2012,
    7.2, from memory).
    """
    if u == 0.0:
        return 1.0 if limits.low <= value <= limits.high else 0.0
    high = student_cdf((limits.high - value) / u, dof)
    return max(0.0, high - student_cdf((limits.low - value) / u, dof))


def decide(value: Value, limits: Limits, rule: Rule) -> Decision:
    """Return the verdict on a value under a rule."""
    if value.lower_bound:
        return _decide_bound(value, limits, rule)
    p = conformance(value.value, value.u, limits, value.dof)
    if rule.name == "conformance":
        verdict: Verdict = "undecided"
        if p >= rule.probability:
            verdict = "in"
        elif 1.0 - p >= rule.probability:
            verdict = "out"
        return Decision(verdict=verdict, probability=p, guard_ev=_conformance_guard(value, rule))
    guard = 0.0 if rule.name == "simple" else rule.guard * value.expanded
    if limits.low + guard <= value.value <= limits.high - guard:
        verdict = "in"
    elif rule.name == "simple" or not limits.low - guard <= value.value <= limits.high + guard:
        verdict = "out"
    else:
        verdict = "undecided"
    return Decision(verdict=verdict, probability=p, guard_ev=guard)


def worst_verdict(verdicts: Collection[Verdict]) -> Verdict | None:
    """Return the one that counts of several: out beats undecided beats in; None of none."""
    return next((each for each in WORST if each in verdicts), None)


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


def _decide_bound(value: Value, limits: Limits, rule: Rule) -> Decision:
    """A value of which only "at least so much" is known: "in" needs no upper limit."""
    above = Limits(low=limits.low) if math.isfinite(limits.low) else None
    below = Limits(high=limits.high) if math.isfinite(limits.high) else None
    exact = Value(
        value=value.value,
        u=value.u,
        low=value.low,
        high=value.high,
        dof=value.dof,
        lower_bound=False,
    )
    verdict: Verdict = "undecided"
    guard = 0.0
    if below is not None:
        found = decide(exact, below, rule)
        guard = found.guard_ev
        verdict = "out" if found.verdict == "out" else "undecided"
    elif above is not None:
        found = decide(exact, above, rule)
        guard = found.guard_ev
        verdict = "in" if found.verdict == "in" else "undecided"
    else:
        verdict = "in"
    return Decision(verdict=verdict, probability=None, guard_ev=guard)


def _conformance_guard(value: Value, rule: Rule) -> float:
    """One-sided guard band that the rule comes to: 1.645 u for 95 % (ISO 14253-1: 1.65 u)."""
    return _NORMAL.inv_cdf(rule.probability) * value.u
