"""Flicker that an exposure leaves, against a table and against a sum over the sine itself."""

from __future__ import annotations

import math

import numpy as np
import pytest

from profiler.exposure.flicker import (
    flicker_ev,
    flicker_free_angles_deg,
    pulses_per_s,
    ripple_left,
)

# Computed on +-m |sinc|: 1/t, then 50 Hz mains m = 1, m = 0.1, 60 Hz mains m = 1, m = 0.1.
TABLE = [
    (30.0, 0.2392, 0.0239, 0.0, 0.0),
    (32.0, 0.1125, 0.0112, 0.1734, 0.0173),
    (50.0, 0.0, 0.0, 0.3659, 0.0364),
    (50.797, 0.0459, 0.0046, 0.3548, 0.0353),
    (60.0, 0.4817, 0.0477, 0.0, 0.0),
    (64.0, 0.5844, 0.0577, 0.1877, 0.0187),
    (100.0, 0.0, 0.0, 0.4536, 0.0450),
    (101.59, 0.0460, 0.0046, 0.4221, 0.0419),
    (125.0, 0.6875, 0.0675, 0.1200, 0.0120),
    (128.0, 0.7631, 0.0746, 0.1914, 0.0191),
    (250.0, 2.8529, 0.2188, 2.2970, 0.1912),
]


@pytest.mark.parametrize(("inverse", "full_50", "tenth_50", "full_60", "tenth_60"), TABLE)
def test_table(
    inverse: float, full_50: float, tenth_50: float, full_60: float, tenth_60: float
) -> None:
    time_s = 1 / inverse
    # the times 50.797 and 101.59 are printed short: 0.02 % in time, 1e-4 EV
    digits = 1.5e-4 if inverse in (50.797, 101.59) else 5.1e-5
    assert flicker_ev(time_s, 50.0) == pytest.approx(full_50, abs=digits)
    assert flicker_ev(time_s, 50.0, 0.1) == pytest.approx(tenth_50, abs=digits)
    assert flicker_ev(time_s, 60.0) == pytest.approx(full_60, abs=digits)
    assert flicker_ev(time_s, 60.0, 0.1) == pytest.approx(tenth_60, abs=digits)


@pytest.mark.parametrize(
    ("mains_hz", "time_s", "ev"),
    [
        (50.0, 0.008, 0.6875363648051486),
        (50.0, 0.016666667, 0.48166444050371504),
        (60.0, 0.015625, 0.18771767615702928),
        (60.0, 0.01, 0.45357476856854967),
    ],
)
def test_with_more_digits(mains_hz: float, time_s: float, ev: float) -> None:
    assert flicker_ev(time_s, mains_hz) == pytest.approx(ev, abs=1e-6)


@pytest.mark.parametrize("depth", [0.1, 0.6, 1.0])
@pytest.mark.parametrize("inverse", [30.0, 64.0, 125.0, 250.0])
def test_against_a_sum_over_the_sine(inverse: float, depth: float) -> None:
    """A second road: the light itself, summed over the open time at 400 starting points."""
    open_s = np.linspace(0.0, 1 / inverse, 4001)
    starts_s = np.linspace(0.0, 1 / 100, 400, endpoint=False)
    light = 1 + depth * np.sin(2 * math.pi * 100 * (starts_s[:, None] + open_s[None, :]))
    means = np.trapezoid(light, open_s, axis=1) * inverse
    assert np.log2(means.max() / means.min()) == pytest.approx(
        flicker_ev(1 / inverse, 50.0, depth), abs=1e-3
    )


# Read at photo-spectrum.info.
@pytest.mark.parametrize(
    ("mains_hz", "inverses"), [(50.0, (100, 50, 33.333, 25)), (60.0, (120, 60, 40, 30))]
)
def test_times_with_whole_pulses(mains_hz: float, inverses: tuple[float, ...]) -> None:
    for inverse in inverses:
        assert ripple_left(1 / inverse, mains_hz) == pytest.approx(0.0, abs=1e-4)


def test_almost_one_ev_at_a_200th() -> None:
    """Read at photo-spectrum.info, which measured almost 1 EV of spread at 1/200 s."""
    assert 0.9 < flicker_ev(1 / 200, 50.0, 0.5) < 1.0


def test_safe_times_that_are_not() -> None:
    """1/125 s is listed by one help page as safe at 60 Hz; "1/60" run as 1/64 s isn't either."""
    assert flicker_ev(1 / 125, 60.0) > 0.1
    assert flicker_ev(1 / 64, 60.0) > 0.18


def test_angles_with_whole_pulses() -> None:
    """Read at tumgag.com: 25 fps under 120 pulses."""
    assert flicker_free_angles_deg(25.0, 60.0) == pytest.approx((75, 150, 225, 300))
    assert flicker_free_angles_deg(24.0, 50.0) == pytest.approx((86.4, 172.8, 259.2, 345.6))
    assert flicker_free_angles_deg(30.0, 60.0) == pytest.approx((90, 180, 270, 360))
    assert flicker_free_angles_deg(200.0, 50.0) == ()
    assert pulses_per_s(60.0) == 120.0
