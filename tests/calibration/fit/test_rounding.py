"""Error of a mean of rounded values, against drawn ones."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.calibration.groups import rounding_u_dn


@pytest.mark.parametrize("step", [1.0, 4.0])
@pytest.mark.parametrize("noise", [0.0, 0.1, 0.2, 0.3, 0.4, 0.6])
def test_rest_of_rounding(noise, step):
    """Levels anywhere between two codes; the noise as the patch shows it, rounding in."""
    rng = np.random.default_rng(5)
    levels = rng.uniform(200.0, 300.0, 400) * step
    values = levels[:, None] + rng.normal(0.0, noise * step, (400, 20000))
    coded = np.rint(values / step) * step
    rms_dn = float(np.sqrt(np.mean((coded.mean(axis=1) - levels) ** 2)))
    u_dn = rounding_u_dn(coded.var(axis=1), np.full(400, step))
    stated_dn = float(np.sqrt(np.mean(u_dn**2)))
    assert rms_dn < 1.02 * stated_dn + 0.005 * step
    assert stated_dn < 1.02 * step / 12.0**0.5
    if noise >= 0.6:
        assert stated_dn < 0.01 * step


def test_noise_of_a_code_and_more_leaves_nothing():
    assert rounding_u_dn(np.array([1.0, 9.0]), np.array([1.0, 1.0])) == pytest.approx(
        [0.0, 0.0], abs=1e-6
    )


def test_without_noise_a_rectangle_is_left():
    assert rounding_u_dn(np.array([0.0]), np.array([2.0])) == pytest.approx([2.0 / 12.0**0.5])
