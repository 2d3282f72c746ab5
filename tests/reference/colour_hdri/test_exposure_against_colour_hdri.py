"""Exposure arithmetic against colour-hdri 0.2.6 on arrays of random settings."""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from profiler.exposure.light import (
    ev100_from_illuminance,
    ev100_from_luminance,
    ev_at_iso,
    ev_from_settings,
    illuminance_from_ev100,
    luminance_from_ev100,
    metered_focal_plane_exposure_lx_s,
    stops_below_saturation,
)
from profiler.exposure.quantities import exp2
from profiler.records import Meter

with warnings.catch_warnings(), np.printoptions():  # colour sets numpy to print as of old
    warnings.simplefilter("ignore")  # colour names its optional libraries on import
    from colour_hdri import exposure as theirs
    from colour_hdri.exposure.dsc import q_factor as q_factor_of_theirs

RNG = np.random.default_rng(12232)
N = RNG.uniform(0.95, 32.0, 200)
T = 2.0 ** RNG.uniform(-13.0, 5.0, 200)
S = 2.0 ** RNG.uniform(4.0, 17.0, 200)
L = 2.0 ** RNG.uniform(-6.0, 16.0, 200)
EV100 = RNG.uniform(-6.0, 20.0, 200)


def ev100() -> np.ndarray:
    return ev_from_settings(N, T) - np.log2(S / 100.0)


def test_ev_from_settings() -> None:
    np.testing.assert_allclose(ev100(), theirs.exposure_value_100(N, T, S), rtol=0, atol=1e-12)
    np.testing.assert_allclose(ev_at_iso(ev100(), S), ev_from_settings(N, T), rtol=0, atol=1e-12)


@pytest.mark.parametrize("k", [12.5, 14.0])
def test_luminance(k: float) -> None:
    np.testing.assert_allclose(
        luminance_from_ev100(ev100(), k), theirs.average_luminance(N, T, S, k), rtol=1e-12
    )
    np.testing.assert_allclose(
        ev_at_iso(ev100_from_luminance(L, k), S),
        theirs.luminance_to_exposure_value(L, S, k),
        rtol=0,
        atol=1e-12,
    )


@pytest.mark.parametrize("c", [250.0, 340.0])
def test_illuminance(c: float) -> None:
    np.testing.assert_allclose(
        illuminance_from_ev100(ev100(), c), theirs.average_illuminance(N, T, S, c), rtol=1e-12
    )
    np.testing.assert_allclose(
        ev_at_iso(ev100_from_illuminance(L, c), S),
        theirs.illuminance_to_exposure_value(L, S, c),
        rtol=0,
        atol=1e-12,
    )


@pytest.mark.parametrize("k", [12.5, 14.0])
def test_focal_plane_exposure_of_a_spot_reading(k: float) -> None:
    """Set as a spot meter asks, a camera gets what theirs computes from the light it saw."""
    q = float(q_factor_of_theirs())  # the exact lens factor 0.651575
    asked = [metered_focal_plane_exposure_lx_s("spot", Meter(k_cd_m2=k), iso, q=q) for iso in S]
    seen = theirs.arithmetic_mean_focal_plane_exposure(luminance_from_ev100(ev100(), k), N, T)
    np.testing.assert_allclose(asked, seen, rtol=1e-12)


def test_stops_below_saturation() -> None:
    """Theirs: exposure as a part of the saturating one, their lens focused at infinity."""
    seen = theirs.saturation_based_speed_focal_plane_exposure(L, N, T, S, i=0.05)
    exposure = float(q_factor_of_theirs()) * L * T / N**2
    np.testing.assert_allclose(
        stops_below_saturation(exposure * S), -np.log2(seen), rtol=0, atol=1e-12
    )


def test_stops_as_factors() -> None:
    np.testing.assert_allclose(
        0.18 * exp2(EV100), theirs.adjust_exposure(np.full(200, 0.18), EV100), rtol=1e-13
    )
    assert 0.18 * exp2(2 / 3) == pytest.approx(0.2857321894, abs=5e-11)


# Run once in colour-hdri 0.2.6; kept so that a change of theirs shows.
def test_figures_of_the_package() -> None:
    assert luminance_from_ev100(ev_from_settings(8.0, 1.0)) == pytest.approx(8.0)
    assert luminance_from_ev100(ev_from_settings(16.0, 1 / 125), 14.0) == pytest.approx(4480.0)
    assert illuminance_from_ev100(ev_from_settings(8.0, 1.0)) == pytest.approx(160.0)
    assert illuminance_from_ev100(ev_from_settings(16.0, 1 / 125), 340.0) == pytest.approx(108800.0)
    assert ev100_from_luminance(1000.0) == pytest.approx(12.96578428, abs=5e-9)
    assert ev100_from_illuminance(10000.0) == pytest.approx(11.96578428, abs=5e-9)
    assert ev100_from_illuminance(10000.0, 340.0) == pytest.approx(11.52217763, abs=5e-9)
    assert ev_from_settings(2.8, 1 / 60) - 3.0 == pytest.approx(5.87774425, abs=5e-9)
