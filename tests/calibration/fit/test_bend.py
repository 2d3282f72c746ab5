"""The end of the straight line."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.calibration.fit.bend import find_bend
from profiler.calibration.fit.response import LineData

SPAN = np.full(4, 15000.0)
METERED = np.array([900.0, 2000.0, 2000.0, 1300.0])


def data(begin: float, slope: float, seed: int, channels: int = 4):
    """Signal falls short by slope * (part - begin) above `begin`; frames a third apart on top."""
    rng = np.random.default_rng(seed)
    x = np.concatenate([np.linspace(-5.0, 0.0, 5), np.arange(0.5, 2.9, 1.0 / 3.0)])
    signal = METERED[-channels:] * 2.0 ** (x + rng.normal(0.0, 0.02, x.size))[:, None]
    part = signal / 15000.0
    bent = signal * (1.0 - slope * np.maximum(part - begin, 0.0))
    level = 512.0 + np.minimum(bent, 15000.0)
    u = np.sqrt(0.02**2 + (0.0005 * bent) ** 2)
    level = level + rng.normal(0.0, 1.0, level.shape) * u
    clear = level < 15400.0
    line = LineData(
        placement_ev=x,
        level_dn=level,
        level_u_dn=u,
        use=clear & (level - 512.0 < 13500.0) & (level - 512.0 > 75.0),
        black_dn=np.full(channels, 512.0),
        black_u_dn=np.full(channels, 0.1),
    )
    return line, SPAN[-channels:], clear


@pytest.mark.parametrize("seed", range(10))
def test_bend_is_found_where_it_is(seed):
    bend = find_bend(*data(0.65, 0.4, seed))
    assert bend.found
    # 2 % short: 0.4 (part - 0.65) = 0.02
    assert bend.limit == pytest.approx(0.70, abs=0.04)


@pytest.mark.parametrize("channels", [4, 1])
def test_a_straight_sensor_has_no_bend(channels):
    found = [find_bend(*data(2.0, 0.0, seed, channels)).found for seed in range(100)]
    assert sum(found) <= 1


def test_how_far_the_line_was_checked():
    assert 0.85 < find_bend(*data(2.0, 0.0, 1)).checked < 1.0
