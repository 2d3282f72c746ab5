"""Dark noise that was cut off at the lowest code."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.calibration.fit.cut import is_cut, uncut


def codes(mean_dn: float, sd_dn: float, floor_dn: float, seed: int, gap: int = 1) -> np.ndarray:
    noise = np.random.default_rng(seed).normal(mean_dn, sd_dn, 40000)
    return np.maximum(gap * np.rint(noise / gap), floor_dn)


def found(values: np.ndarray, gap: int = 1) -> bool:
    bottom = values.min()
    return is_cut(
        bottom,
        float(np.mean(values == bottom)),
        float(np.quantile(values, 0.5)),
        float(np.quantile(values, 0.99)),
        gap,
    )


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize(
    ("floor", "sd"), [(0.0, 1.5), (0.0, 5.0), (0.0, 30.0), (64.0, 5.0), (128.0, 30.0)]
)
@pytest.mark.parametrize("above", [-0.5, 0.0, 0.7, 1.1])
def test_black_and_noise_come_from_the_uncut_side(seed, floor, sd, above):
    values = codes(floor + above * sd, sd, floor, seed)
    share = float(np.mean(values == floor))
    assert found(values)
    before = uncut(float(values.mean()), floor, share)
    assert before.mean_dn == pytest.approx(floor + above * sd, abs=2.0 * before.u_dn)
    assert before.sd_dn == pytest.approx(sd, rel=0.06, abs=0.2)
    if above == 0.0:  # the mean itself is up by sigma / sqrt(2 pi)
        assert values.mean() - floor == pytest.approx(0.4 * sd, rel=0.1)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize(
    ("sd", "gap"), [(0.2, 1), (0.4, 1), (1.0, 1), (30.0, 1), (1.0, 4), (6.0, 4)]
)
@pytest.mark.parametrize("mean", [512.0, 511.5, 513.3])
def test_noise_that_was_not_cut_is_left_alone(seed, sd, gap, mean):
    assert not found(codes(mean, sd, 0.0, seed, gap), gap)


def test_noise_of_which_nothing_is_left_tells_nothing():
    assert uncut(0.0, 0.0, 1.0) is None
    assert uncut(0.03, 0.0, 0.97) is None
    assert not found(np.zeros(1000))
