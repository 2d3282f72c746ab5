"""Photon transfer against known truth."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.fitting.noise import floor_signal_dn, photon_transfer

K, SIGMA_E = 0.75, 6.0


def transfer(seed: int, pixels: int = 20000):
    rng = np.random.default_rng(seed)
    signal = np.array([0.0, 0.0, 50.0, 200.0, 800.0, 3000.0, 9000.0, 14000.0])
    variance = K**2 * SIGMA_E**2 + 1.0 / 12.0 + K * signal
    measured = variance * rng.chisquare(pixels, signal.size) / pixels
    return photon_transfer(
        signal, measured, np.full(signal.size, float(pixels)), 15000.0, from_pairs=True
    )


def test_gain_and_read_noise_within_their_uncertainty():
    gain, noise = [], []
    for seed in range(200):
        found = transfer(seed)
        gain.append((found.gain_e_per_dn - 1.0 / K) / found.gain_u_e_per_dn)
        noise.append((found.read_noise_e - SIGMA_E) / found.read_noise_u_e)
        assert found.gain_e_per_dn == pytest.approx(1.0 / K, rel=0.03)
    for pull in (gain, noise):
        assert abs(np.mean(pull)) < 0.25
        assert 0.75 < np.std(pull) < 1.15


def test_range_ends_at_seventy_percent():
    assert transfer(1).top_dn == 9000.0


def test_floor_solves_its_equation():
    found = transfer(2)
    for snr in (1.0, 10.0, 40.0):
        signal, u = floor_signal_dn(found, snr)
        noise = np.sqrt(found.dark_variance_dn2 + found.slope_dn_per_e * signal)
        assert signal / noise == pytest.approx(snr, rel=1e-9)
        assert 0.0 < u < 0.1 * signal


def test_too_few_levels_give_nothing():
    two = np.array([0.0, 100.0])
    assert photon_transfer(two, two + 1.0, two + 99.0, 1e4, from_pairs=True) is None
