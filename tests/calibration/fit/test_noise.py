"""Photon transfer against known truth."""

from __future__ import annotations

import math

import numpy as np
import pytest

from profiler.calibration.fit.noise import NoTransfer, floor_signal_dn, photon_transfer

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


@pytest.mark.parametrize(
    ("signal", "variance", "reason"),
    [
        ([0.0, 100.0], [1.0, 101.0], "fewer than three levels"),
        ([0.0, 100.0, 200.0], [0.0, 0.0, 0.0], "don't vary"),
        ([100.0, 100.0, 100.0], [76.0, 75.0, 77.0], "one level"),
        ([100.0, 101.0, 102.0], [76.0, 76.5, 77.0], "lie too close"),
        ([0.0, 5000.0, 6000.0], [90.0, 70.0, 20.0], "doesn't grow"),
    ],
)
def test_where_nothing_can_be_said_the_reason_is_told(signal, variance, reason):
    found = photon_transfer(
        np.array(signal),
        np.array(variance),
        np.full(len(signal), 2000.0),
        1e4,
        from_pairs=True,
    )
    assert isinstance(found, NoTransfer)
    assert reason in found.reason


@pytest.mark.parametrize("top", [0.045, 0.01])
def test_many_pairs_in_the_lowest_twentieth_of_the_span_are_enough(top):
    rng = np.random.default_rng(5)
    signal = np.linspace(0.0, top * 15000.0, 24)
    variance = (K * SIGMA_E) ** 2 + 1.0 / 12.0 + K * signal
    measured = variance * rng.chisquare(20000, signal.size) / 20000
    found = photon_transfer(
        signal, measured, np.full(signal.size, 20000.0), 15000.0, from_pairs=True
    )
    assert found.gain_e_per_dn == pytest.approx(1.0 / K, abs=3.0 * found.gain_u_e_per_dn)
    assert found.gain_u_e_per_dn < 0.05 / K
    assert found.read_noise_e == pytest.approx(SIGMA_E, abs=3.0 * found.read_noise_u_e)


def dark_noise(sigma_dn: float, pixels: int, lowest: float):
    """Transfer of pairs from `lowest` DN up, with so much dark noise before rounding."""
    signal = np.geomspace(lowest, 9000.0, 12)
    variance = sigma_dn**2 + 1.0 / 12.0 + K * signal
    measured = variance * np.random.default_rng(6).chisquare(pixels, signal.size) / pixels
    return photon_transfer(
        signal, measured, np.full(signal.size, float(pixels)), 15000.0, from_pairs=True
    )


def test_dark_noise_below_rounding_is_a_most_and_never_zero():
    found = dark_noise(0.1, 200000, 0.5)
    assert (found.dark_measured, found.quantised) == (False, True)
    # EMVA 1288 Release 4.0: below 0.24 DN^2, so sigma is known to be under 0.40 DN only
    assert 0.395 <= found.read_noise_dn < 0.5
    assert found.read_noise_e > 0.1 / K


def test_dark_noise_that_bright_pairs_cannot_tell_is_unknown():
    found = dark_noise(3.0, 2000, 800.0)
    assert (found.dark_measured, found.quantised) == (False, False)
    assert found.read_noise_dn is found.read_noise_e is found.read_noise_u_e is None
    signal, _ = floor_signal_dn(found, 10.0)
    true = 0.5 * (100.0 * K + math.sqrt((100.0 * K) ** 2 + 400.0 * (9.0 + 1.0 / 12.0)))
    assert signal > true
