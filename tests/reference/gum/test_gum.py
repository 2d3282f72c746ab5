"""JCGM 100:2008 (GUM), annexes G and H; inputs via the MSL GTC documentation, recomputed."""

from __future__ import annotations

import math

import numpy as np
import pytest

from profiler.calibration.fit.budget import (
    ARCSINE,
    RECTANGULAR,
    TRIANGULAR,
    bounded,
    combine,
    coverage_factor,
    propagate,
    stated,
)
from profiler.calibration.fit.line import fit_linear


@pytest.mark.parametrize(
    ("factor", "value"),
    [(RECTANGULAR, 0.577350), (TRIANGULAR, 0.408248), (ARCSINE, 0.707107)],
)
def test_half_widths(factor, value):
    assert factor == pytest.approx(value, abs=5e-7)


@pytest.mark.parametrize(
    ("half", "u"),
    # 0.1 EV display; limits +-0.1 EV; 1/3 stop dial
    [(0.05, 0.02887), (0.1, 0.05774), (1.0 / 6.0, 0.09623)],
)
def test_sizes_of_the_trade(half, u):
    assert bounded("x", half, "test").u_ev == pytest.approx(u, abs=5e-6)


def test_h1_end_gauge():
    length, theta = 50_000_623.0, -0.1
    rows = [
        stated("standard", 25.0, "H.1.3.1", dof=18),
        stated("repeated observations", 5.8, "H.1.3.2", dof=24),
        stated("comparator, random", 3.9, "H.1.3.2", dof=5),
        stated("comparator, systematic", 6.7, "H.1.3.2", dof=8),
        stated(
            "difference of expansion", 1e-6 / math.sqrt(3), "H.1.3.3", dof=50,
            sensitivity=-length * theta,
        ),
        stated(
            "difference of temperature", 0.05 / math.sqrt(3), "H.1.3.4", dof=2,
            sensitivity=-length * 11.5e-6,
        ),
    ]  # fmt: skip
    u, dof = combine(rows)
    assert u == pytest.approx(31.66, abs=0.05)
    assert dof == pytest.approx(16.75, abs=0.05)
    assert coverage_factor(dof, 0.99) == pytest.approx(2.92, abs=0.005)
    assert coverage_factor(dof, 0.99) * u == pytest.approx(92.5, abs=0.1)


def test_h2_resistance_and_reactance():
    volts = np.array([5.007, 4.994, 5.005, 4.990, 4.999])
    amperes = np.array([19.663, 19.639, 19.640, 19.685, 19.678]) * 1e-3
    phase = np.array([1.0456, 1.0438, 1.0468, 1.0428, 1.0433])
    data = np.stack([volts, amperes, phase])
    covariance = np.cov(data) / 5.0
    v, i, p = data.mean(axis=1)
    z = v / i
    jacobian = np.array(
        [
            [math.cos(p) / i, -z * math.cos(p) / i, -z * math.sin(p)],
            [math.sin(p) / i, -z * math.sin(p) / i, z * math.cos(p)],
            [1.0 / i, -z / i, 0.0],
        ]
    )
    found = propagate(jacobian, covariance)
    u = np.sqrt(np.diag(found))
    assert [z * math.cos(p), z * math.sin(p), z] == pytest.approx(
        [127.732, 219.847, 254.260], abs=1e-3
    )
    assert u == pytest.approx([0.071071, 0.295582, 0.236336], abs=1e-5)
    r = found / np.outer(u, u)
    assert [r[0, 1], r[0, 2], r[1, 2]] == pytest.approx([-0.588, -0.485, 0.993], abs=6e-4)


def test_h3_thermometer_line():
    t = "21.521 22.012 22.512 23.003 23.507 23.999 24.513 25.002 25.503 26.010 26.511"
    b = "-0.171 -0.169 -0.166 -0.159 -0.164 -0.165 -0.156 -0.157 -0.159 -0.161 -0.160"
    x = np.array([float(v) for v in t.split()]) - 20.0
    fit = fit_linear(np.stack([np.ones(11), x], axis=1), [float(v) for v in b.split()])
    assert fit.coefficients == pytest.approx([-0.1712, 0.002183], abs=1e-5)
    assert fit.coefficients[1] == pytest.approx(0.002183, abs=1e-6)
    assert fit.u == pytest.approx([0.00288, 0.000668], abs=1e-5)
    assert fit.u[1] == pytest.approx(0.000668, abs=1e-6)
    assert (fit.residual_sd, fit.dof) == (pytest.approx(0.0035, abs=1e-5), 9)
    r = fit.covariance[0, 1] / (fit.u[0] * fit.u[1])
    assert r == pytest.approx(-0.9304, abs=1e-4)
    at = np.array([[1.0, 10.0]])
    assert (at @ fit.coefficients)[0] == pytest.approx(-0.14938, abs=1e-5)
    assert math.sqrt(propagate(at, fit.covariance)[0, 0]) == pytest.approx(0.00414, abs=1e-5)


def test_g4_effective_degrees_of_freedom():
    rows = [stated(str(dof), u, "G.4.1", dof=dof) for u, dof in ((0.25, 9), (0.57, 4), (0.82, 14))]
    u, dof = combine(rows)
    assert u == pytest.approx(1.0295, abs=1e-4)
    assert dof == pytest.approx(19.0, abs=0.01)
    assert coverage_factor(dof) == pytest.approx(2.09, abs=0.005)
    assert coverage_factor(dof) * u == pytest.approx(2.15, abs=0.005)


def test_linear_propagation_against_uncertainties():
    """The uncertainties package on headroom = log2((clip - black)/metered)."""
    from uncertainties import correlated_values, umath

    values = np.array([15800.0, 512.0, 2363.0])
    root = np.array([[3.0, 0, 0], [0.2, 1.1, 0], [5.0, -12.0, 30.0]])
    covariance = root @ root.T
    clip, black, metered = correlated_values(values, covariance)
    theirs = umath.log((clip - black) / metered) / math.log(2.0)
    span = values[0] - values[1]
    jacobian = np.array([[1.0 / span, -1.0 / span, -1.0 / values[2]]]) / math.log(2.0)
    assert math.sqrt(propagate(jacobian, covariance)[0, 0]) == pytest.approx(
        theirs.std_dev, rel=1e-9
    )
