"""Photon transfer on pixels with hot ones, flicker between the pair, and a 10 bit coding."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.fitting.noise import photon_transfer
from profiler.frames.patch import measure_patch, pair_variance

MONO = (("Y",),)
GAIN_E, READ_E, BLACK, TOP = 11.0, 15.0, 64.0, 1023  # e-/DN, e-, DN, 10 bit


def frame(rng, electrons: float, hot: np.ndarray, flicker: float) -> np.ndarray:
    light = electrons * (1.0 + flicker * rng.normal())
    e = rng.poisson(light, hot.shape) + rng.normal(0.0, READ_E, hot.shape) + hot
    return np.clip(np.rint(BLACK + e / GAIN_E), 0, TOP).astype(np.uint16)


@pytest.mark.parametrize("seed", range(5))
def test_gain_within_one_percent(seed):
    rng = np.random.default_rng([10, seed])
    shape = (400, 600)
    hot = np.where(rng.uniform(size=shape) < 0.001, 3000.0, 0.0)  # 0.1 % hot pixels
    signal, variance, count = [], [], []
    for electrons in (0.0, 200.0, 500.0, 1000.0, 2000.0, 3500.0, 5000.0, 6500.0):
        a, b = (frame(rng, electrons, hot, 0.003) for _ in range(2))  # 0.3 % pair flicker
        n, v = pair_variance(a, b, MONO)["Y"]
        mean = 0.5 * sum(measure_patch(f, MONO)["Y"].mean_dn for f in (a, b))
        signal.append(mean - BLACK)
        variance.append(v)
        count.append(float(n))
    found = photon_transfer(
        np.array(signal), np.array(variance), np.array(count), TOP - BLACK, from_pairs=True
    )
    assert found.gain_e_per_dn == pytest.approx(GAIN_E, rel=0.01)
    assert found.read_noise_e == pytest.approx(READ_E, rel=0.03)


# DNG 1.7.1 NoiseProfile: K 0.75 DN/e-, sigma 4.5 DN, black 512, white 16383 (computed)
def test_noise_profile_pair():
    span = 16383.0 - 512.0
    assert 0.75 / span == pytest.approx(4.72560e-05, rel=1e-5)
    assert 4.5**2 / span**2 == pytest.approx(8.03927e-08, rel=1e-5)
    # the text's own example: S 2e-5, O 4.5e-7 at x = 0.18 gives 0.00201
    assert np.sqrt(2e-5 * 0.18 + 4.5e-7) == pytest.approx(0.00201246, abs=5e-9)
