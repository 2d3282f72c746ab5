"""Conformance probability after JCGM 106, with risks of a population from suncal's tests."""

from __future__ import annotations

import math

import pytest

from profiler.fleet.rows import Value
from profiler.fleet.rules import Limits, Rule, conformance, decide

LIMITS = Limits(low=-0.333, high=0.333)


@pytest.mark.parametrize(("value", "p"), [(0.20, 0.9867), (0.30, 0.7088), (0.333, 0.5000)])
def test_conformance_probability(value, p):
    assert conformance(value, 0.06, LIMITS) == pytest.approx(p, abs=1e-4)
    assert conformance(-value, 0.06, LIMITS) == pytest.approx(p, abs=1e-4)


def test_ninety_five_per_cent_is_a_guard_band_of_1_645_u():
    """ISO 14253-1:2017 rounds it to 1.65 u, 0.825 U."""
    rule = Rule(name="conformance", probability=0.95)

    def verdict(value):
        whole = Value(value=value, u=0.06, low=-9.0, high=9.0, dof=math.inf, lower_bound=False)
        return decide(whole, LIMITS, rule)

    edge = 0.333 - 1.6449 * 0.06
    assert verdict(edge - 0.0001).verdict == "in"
    assert verdict(edge + 0.0001).verdict == "undecided"
    assert verdict(0.333 + 1.6449 * 0.06 - 0.0001).verdict == "undecided"
    assert verdict(0.333 + 1.6449 * 0.06 + 0.0001).verdict == "out"
    assert verdict(0.0).guard_ev == pytest.approx(1.65 * 0.06, abs=0.0005)
