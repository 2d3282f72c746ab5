"""Guard bands of ILAC-G8:09/2019 with the risks that its table states, U at k = 2."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.fleet.columns import Values
from profiler.fleet.rules import WORST, Limits, Rule, decide, stated_risk, worst_false_accept

# guard band in U, worst false accept exactly, as printed (rounded up), digit of the exact one
TABLE = [
    (3.0, 9.9e-10, 1e-6, 0.05e-9),
    (1.5, 0.00135, 0.0016, 0.5e-5),
    (1.0, 0.0228, 0.025, 0.5e-4),
    (0.83, 0.0485, 0.05, 0.5e-4),
    (0.0, 0.50, 0.50, 1e-12),
]


@pytest.mark.parametrize(("guard", "risk", "printed", "digit"), TABLE)
def test_worst_false_accept(guard, risk, printed, digit):
    assert worst_false_accept(guard, 2.0) == pytest.approx(risk, abs=digit)
    assert worst_false_accept(guard, 2.0) <= printed


def test_rules_state_these_risks():
    assert stated_risk(Rule(name="simple")) == 0.5
    assert stated_risk(Rule(name="guard-band", guard=1.0)) == pytest.approx(0.025, abs=1e-4)
    assert stated_risk(Rule(name="conformance")) == pytest.approx(0.05)


@pytest.mark.parametrize(
    ("value", "simple", "guarded"),
    [
        (0.0, "in", "in"),
        (0.212, "in", "in"),
        (0.214, "in", "undecided"),
        (0.332, "in", "undecided"),
        (0.334, "out", "undecided"),
        (0.454, "out", "out"),
        (-0.334, "out", "undecided"),
        (-0.454, "out", "out"),
    ],
)
def test_verdicts_around_limits_of_a_third(value, simple, guarded):
    """Limits +-0.333 EV, u 0.06, U 0.12: the band reaches from 0.213 to 0.453."""
    found = Values(
        value=np.array([value]),
        u=np.array([0.06]),
        low=np.array([value - 0.12]),
        high=np.array([value + 0.12]),
        dof=np.array([1e9]),
        lower_bound=np.array([False]),
    )
    limits = Limits(low=-0.333, high=0.333)
    plain = decide(found, limits, Rule(name="simple"))
    drawn_in = decide(found, limits, Rule(name="guard-band"))
    assert WORST[int(plain.verdict[0])] == simple
    assert WORST[int(drawn_in.verdict[0])] == guarded
    assert drawn_in.guard_ev == pytest.approx(0.12)
