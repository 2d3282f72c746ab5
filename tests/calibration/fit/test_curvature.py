"""A response that isn't straight, told from shutter scatter by its channels."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.calibration.fit.bend import find_curvature
from profiler.calibration.fit.response import LineData, fit_lines

BLACK = np.full(4, 512.0)
METERED = np.array([900.0, 2000.0, 2000.0, 1300.0])
SPAN = 15871.0


def curvature(part: float, seed: int, scatter_ev: float = 0.05):
    rng = np.random.default_rng(seed)
    x = np.linspace(-4.5, 2.6, 12)
    signal = METERED * 2.0 ** (x + rng.normal(0.0, scatter_ev, 12))[:, None]
    signal = signal * (1.0 - part * signal / SPAN)
    u = np.sqrt(0.02**2 + (0.0005 * signal) ** 2 + signal / 20000.0)
    data = LineData(
        placement_ev=x,
        level_dn=BLACK + signal + rng.normal(0.0, 1.0, signal.shape) * u,
        level_u_dn=u,
        use=(signal < 0.9 * SPAN) & (signal > 80.0),
        black_dn=BLACK,
        black_u_dn=np.full(4, 0.1),
    )
    return find_curvature(data, fit_lines([data])[0], np.full(4, SPAN))


@pytest.mark.parametrize("part", [0.0, 0.01, 0.03, -0.02])
def test_curvature_is_found_under_the_scatter_of_the_shutter(part):
    found = [curvature(part, seed) for seed in range(80)]
    pulls = np.array([(f.part - part) / f.u for f in found])
    # black and levels, fitted to the curve, take up to a quarter of it
    assert np.mean([f.part for f in found]) == pytest.approx(0.88 * part, rel=0.15, abs=0.0015)
    assert 0.7 < np.std(pulls) < 1.4


def test_a_straight_response_is_not_called_curved():
    assert not any(curvature(0.0, seed).seen for seed in range(200))
    assert all(curvature(0.04, seed).seen for seed in range(20))


def test_one_channel_tells_nothing():
    x = np.linspace(-4.0, 2.0, 8)
    signal = 2000.0 * 2.0 ** x[:, None]
    data = LineData(
        placement_ev=x,
        level_dn=512.0 + signal,
        level_u_dn=np.full(signal.shape, 1.0),
        use=np.ones(signal.shape, dtype=bool),
        black_dn=np.array([512.0]),
        black_u_dn=np.array([0.1]),
    )
    assert np.isinf(find_curvature(data, fit_lines([data])[0], np.array([SPAN])).u)
