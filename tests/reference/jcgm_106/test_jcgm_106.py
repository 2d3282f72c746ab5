"""Conformance probability after JCGM 106, with risks of a population from suncal's tests."""

from __future__ import annotations

import math

import pytest

from profiler.fleet.risk import population_risk
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


def test_risk_of_a_95_percent_process_at_4_to_1():
    """suncal 1.7.1: false accept 0.87101 %, of the accepted 0.92390 %."""
    sd = 1.0 / 1.959963985
    risk = population_risk(
        Limits(low=-1.0, high=1.0), centre_ev=0.0, spread_ev=sd, u_ev=sd / 4.0, guard_ev=0.0
    )
    assert 100.0 * risk.false_accept == pytest.approx(0.87101, abs=5e-5)
    assert 100.0 * risk.false_in_accepted == pytest.approx(0.92390, abs=5e-5)
    assert risk.undecided == pytest.approx(0.0, abs=1e-9)


def test_risk_of_a_process_of_4_tested_with_1():
    """suncal 1.7.1: process N(0, 4), test N(0, 1), limits +-8."""
    risk = population_risk(
        Limits(low=-8.0, high=8.0), centre_ev=0.0, spread_ev=4.0, u_ev=1.0, guard_ev=0.0
    )
    assert risk.false_accept == pytest.approx(0.008, abs=5e-4)
    assert risk.false_reject == pytest.approx(0.015, abs=5e-4)
