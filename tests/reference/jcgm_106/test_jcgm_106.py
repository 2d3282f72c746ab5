"""Conformance probability after JCGM 106, with risks of a population from suncal's tests."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.fleet.columns import Values
from profiler.fleet.rules import WORST, Limits, Rule, decide

LIMITS = Limits(low=-0.333, high=0.333)


def decided(*values):
    """The decisions on values of u = 0.06 by the rule of 95 %."""
    y = np.array(values)
    far, none = np.full(y.shape, 9.0), np.zeros(y.shape, dtype=bool)
    u, dof = np.full(y.shape, 0.06), np.full(y.shape, np.inf)
    found = Values(value=y, u=u, low=-far, high=far, dof=dof, lower_bound=none)
    return decide(found, LIMITS, Rule(name="conformance", probability=0.95))


def test_conformance_probability():
    p = decided(0.20, 0.30, 0.333, -0.20, -0.30, -0.333).probability
    assert p == pytest.approx([0.9867, 0.7088, 0.5000] * 2, abs=1e-4)


def test_ninety_five_per_cent_is_a_guard_band_of_1_645_u():
    """ISO 14253-1:2017 rounds it to 1.65 u, 0.825 U."""
    inner, outer = 0.333 - 1.6449 * 0.06, 0.333 + 1.6449 * 0.06
    found = decided(inner - 0.0001, inner + 0.0001, outer - 0.0001, outer + 0.0001, 0.0)
    verdicts = [WORST[int(place)] for place in found.verdict]
    assert verdicts == ["in", "undecided", "undecided", "out", "in"]
    assert found.guard_ev[-1] == pytest.approx(1.65 * 0.06, abs=0.0005)
