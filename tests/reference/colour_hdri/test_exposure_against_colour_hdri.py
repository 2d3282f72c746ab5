"""Exposure arithmetic against colour-hdri 0.2.6 on arrays of random settings."""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from profiler.exposure.focal_plane import (
    exposure_index,
    focal_plane_exposure_lx_s,
    image_distance_m,
    q_factor,
    saturating_luminance_cd_m2,
    saturation_exposure_lx_s,
)
from profiler.exposure.light import (
    ev100_from_illuminance,
    ev100_from_luminance,
    ev_at_iso,
    ev_from_settings,
    illuminance_from_ev100,
    luminance_from_ev100,
)
from profiler.exposure.quantities import exp2

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


def test_q_factor() -> None:
    assert q_factor() == pytest.approx(float(q_factor_of_theirs()), abs=1e-15)
    assert q_factor(0.85, 0.95, 12.0) == pytest.approx(
        float(q_factor_of_theirs(T=0.85, f_v=0.95, theta=12.0)), abs=1e-15
    )


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


def test_focal_plane_exposure() -> None:
    """Theirs carries the exact lens factor 0.651575; ours takes the standard's 0.65 unless told."""
    np.testing.assert_allclose(
        focal_plane_exposure_lx_s(L, T, N, q_factor()),
        theirs.arithmetic_mean_focal_plane_exposure(L, N, T),
        rtol=1e-12,
    )
    np.testing.assert_allclose(
        focal_plane_exposure_lx_s(
            L, T, N, q_factor(), focal_length_m=0.05, image_distance_m=0.06, flare_lx_s=0.0015
        ),
        theirs.focal_plane_exposure(L, N, T, 0.05, 0.06, 0.0015),
        rtol=1e-12,
    )


def test_part_of_saturation() -> None:
    """Their default is a 50 mm lens focused at 5 m, not at infinity: 2 %, 0.029 EV."""
    ours = focal_plane_exposure_lx_s(
        L, T, N, q_factor(), focal_length_m=0.05, image_distance_m=image_distance_m(0.05, 5.0)
    ) / saturation_exposure_lx_s(S)
    np.testing.assert_allclose(
        ours, theirs.saturation_based_speed_focal_plane_exposure(L, N, T, S), rtol=1e-12
    )
    at_infinity = focal_plane_exposure_lx_s(L, T, N, q_factor()) / saturation_exposure_lx_s(S)
    np.testing.assert_allclose(np.log2(at_infinity / ours), 0.029, atol=5e-4)


def test_part_of_saturation_with_flare() -> None:
    """The figure their run prints for L 4000, f/8, 1/250 s, ISO 400, H_f 0.0015."""
    exposure = focal_plane_exposure_lx_s(
        4000.0,
        1 / 250,
        8.0,
        q_factor(),
        focal_length_m=0.05,
        image_distance_m=0.05,
        flare_lx_s=0.0015,
    )
    assert exposure / saturation_exposure_lx_s(400.0) == pytest.approx(0.8430446596, abs=1e-10)


def test_exposure_index() -> None:
    np.testing.assert_allclose(exposure_index(L), theirs.exposure_index_values(L), rtol=1e-14)


def test_saturating_luminance() -> None:
    np.testing.assert_allclose(
        1.0 / saturating_luminance_cd_m2(EV100, q_factor()),
        theirs.photometric_exposure_scale_factor_Lagarde2014(EV100),
        rtol=1e-12,
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
    assert 1 / saturating_luminance_cd_m2(0.0, q_factor()) == pytest.approx(0.8353523519, abs=5e-11)
    assert 1 / saturating_luminance_cd_m2(15.0, q_factor()) == pytest.approx(
        2.549293066e-05, abs=5e-15
    )
