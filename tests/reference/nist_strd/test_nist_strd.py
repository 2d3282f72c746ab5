"""NIST Statistical Reference Datasets, linear regression: certified values of fit_linear."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from profiler.calibration.fit.line import fit_linear

DIGITS = 1e-9

SETS = {  # name -> (powers of the predictor)
    "Norris": (0, 1),
    "Pontius": (0, 1, 2),
    "NoInt1": (1,),
    "NoInt2": (1,),
    "Wampler1": (0, 1, 2, 3, 4, 5),
    "Wampler4": (0, 1, 2, 3, 4, 5),
}


def read_set(path: Path):
    """Certified (estimate, standard deviation) pairs, residual sd, and the data (y, x)."""
    lines = path.read_text().splitlines()
    number = r"[-+]?\d[\d.]*(?:E[-+]\d+)?"
    certified = [
        (float(m[1]), float(m[2]))
        for line in lines[:60]
        if (m := re.match(rf"\s+B\d\s+({number})\s+({number})\s*$", line))
    ]
    residual = next(
        float(m[1])
        for line in lines[:60]
        if (m := re.match(rf"\s+Standard Deviation\s+({number})", line))
    )
    start = max(i for i, line in enumerate(lines) if line.startswith("Data:"))
    data = np.array(
        [[float(v) for v in line.split()] for line in lines[start + 1 :] if line.strip()]
    )
    return certified, residual, data


@pytest.mark.parametrize("name", SETS)
def test_certified_values(name, shared_data):
    certified, residual, data = read_set(shared_data / "nist" / f"{name}.dat")
    y, x = data[:, 0], data[:, 1]
    fit = fit_linear(np.stack([x**p for p in SETS[name]], axis=1), y)
    assert len(certified) == len(SETS[name])
    for value, u, (estimate, sd) in zip(fit.coefficients, fit.u, certified, strict=True):
        # Wampler4's estimates are 1 under standard deviations up to 2e5
        assert value == pytest.approx(estimate, rel=DIGITS, abs=1e-12 * sd)
        # a certified zero: what is left is rounding of responses up to 3.4e6
        assert u == pytest.approx(sd, rel=DIGITS, abs=1e-8 if sd == 0 else 0)
    assert fit.residual_sd == pytest.approx(residual, rel=DIGITS, abs=1e-8 if residual == 0 else 0)


def test_no_intercept_on_a_lone_clone():
    # NIST StRD NoInt1, quoted: y = 130..140, x = 60..70
    x = np.arange(60.0, 71.0)
    fit = fit_linear(x[:, None], x + 70.0)
    assert fit.coefficients[0] == pytest.approx(2.07438016528926, rel=1e-12)
    assert fit.u[0] == pytest.approx(0.0165289256198347, rel=1e-12)
    assert fit.residual_sd == pytest.approx(3.56753034006338, rel=1e-12)


def test_stated_uncertainties_set_the_covariance():
    x = np.array([0.0, 1.0, 2.0, 3.0])
    fit = fit_linear(np.stack([np.ones(4), x], axis=1), 1.0 + 2.0 * x, u=0.5)
    # sum of squares about the mean is 5: u(slope) = 0.5/sqrt(5)
    assert fit.u[1] == pytest.approx(0.5 / np.sqrt(5.0))


def test_too_few_points():
    with pytest.raises(ValueError, match="can't carry 2 coefficients"):
        fit_linear(np.ones((2, 2)), [1.0, 2.0])
