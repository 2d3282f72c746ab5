"""Quantiles against scipy.stats."""

from __future__ import annotations

import math

import pytest
from scipy import stats

from profiler.calibration.fit.student import normal_quantile, t_quantile


@pytest.mark.parametrize("dof", [3, 4.5, 6, 16.7, 30, 400])
@pytest.mark.parametrize("p", [0.05, 0.6, 0.975, 0.995, 0.99995])
def test_t_quantile(p, dof):
    assert t_quantile(p, dof) == pytest.approx(stats.t.ppf(p, dof), rel=1e-5)


def test_two_degrees_of_freedom():
    assert t_quantile(0.975, 2) == pytest.approx(stats.t.ppf(0.975, 2), rel=1e-3)


def test_many_degrees_are_normal():
    assert t_quantile(0.975, math.inf) == normal_quantile(0.975)
    assert normal_quantile(0.975) == pytest.approx(1.959963984540054, rel=1e-9)


def test_refusals():
    with pytest.raises(ValueError, match="two degrees of freedom"):
        t_quantile(0.9, 1.0)
    with pytest.raises(ValueError, match="between 0 and 1"):
        t_quantile(1.0, 5.0)
