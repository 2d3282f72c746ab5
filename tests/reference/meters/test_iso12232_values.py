"""Speed, focal-plane exposure and headroom against figures of ISO 12232.

The formulas and the factor 0.65 are ISO 12232:2006 as restated in the colour-hdri 0.2.6 docs.
"""

from __future__ import annotations

import math

import pytest

from profiler import standards
from profiler.calibration.fit.offset import saturation_speed
from profiler.exposure.light import metered_focal_plane_exposure_lx_s, stops_below_saturation
from profiler.records import Meter

Q_EXACT = 0.6515748345


def test_q_factor() -> None:
    """(pi/4) T v cos^4(angle) with the standard's own 0.90, 0.98 and 10 deg, rounded by it."""
    exact = math.pi / 4 * 0.90 * 0.98 * math.cos(math.radians(10.0)) ** 4
    assert exact == pytest.approx(0.6515748344849076, abs=1e-9)
    assert round(exact, 2) == standards.Q_FACTOR.value
    assert math.log2(exact / 0.65) == pytest.approx(0.0035, abs=5e-5)


# Computed on H = q K/S and H = q R C/(pi S); columns: mode, K, C, q, H x S, % of saturation, EV
# below saturation, EV against the standard's mean 10/S.
METERED = [
    ("spot", 12.5, 250.0, 0.65, 8.1250, 10.417, 3.2630, -0.2996),
    ("spot", 12.5, 250.0, Q_EXACT, 8.1447, 10.442, 3.2595, -0.2961),
    ("spot", 14.0, 250.0, 0.65, 9.1000, 11.667, 3.0995, -0.1361),
    ("incident-flat", 12.5, 250.0, 0.65, 9.3106, 11.937, 3.0665, -0.1031),
    ("incident-dome", 12.5, 340.0, 0.65, 12.6624, 16.234, 2.6229, +0.3405),
    ("spot", 10.6, 250.0, 0.65, 6.89, 8.83, 3.501, -0.537),
    ("spot", 13.4, 250.0, 0.65, 8.71, 11.17, 3.163, -0.199),
]


@pytest.mark.parametrize(("mode", "k", "c", "q", "hs", "percent", "below", "against"), METERED)
def test_where_a_meter_puts_grey(
    mode: str, k: float, c: float, q: float, hs: float, percent: float, below: float, against: float
) -> None:
    meter = Meter(k_cd_m2=k, c_flat_lx=c, c_dome_lx=c)
    digits = 5e-5 if hs not in (6.89, 8.71) else 5e-3
    for iso in (100.0, 400.0, 51200.0):
        found = metered_focal_plane_exposure_lx_s(mode, meter, iso, q=q) * iso
        assert found == pytest.approx(hs, abs=digits)
        assert 100 * found / 78 == pytest.approx(percent, abs=max(digits, 5e-4))
        ev_digits = 1e-4 if digits < 1e-3 else 5.1e-4
        assert stops_below_saturation(found) == pytest.approx(below, abs=ev_digits)
        assert math.log2(found / 10) == pytest.approx(against, abs=ev_digits)


def test_the_standard_s_own_mean() -> None:
    assert pytest.approx(12.821, abs=5e-4) == 100 * 10 / 78
    assert stops_below_saturation(10.0) == pytest.approx(2.963474123974886, abs=1e-6)
    assert pytest.approx(2.963474123974886, abs=1e-6) == standards.AIM_ISO12232_STOPS


def test_sources_disagree_by_a_hundredth_of_a_stop() -> None:
    """10 and 78 give 2.963474 (chosen); sqrt(2)/0.18 gives 2.973931, as 78 is 78.57 cut short."""
    by_allowance = math.log2(math.sqrt(2) / 0.18)
    assert by_allowance == pytest.approx(2.9739311883324127, abs=1e-6)
    assert by_allowance - stops_below_saturation(10.0) == pytest.approx(0.01046, abs=5e-6)
    assert 10 * math.sqrt(2) / 0.18 == pytest.approx(78.57, abs=5e-3)
    assert 18 / math.sqrt(2) == pytest.approx(12.728, abs=5e-4)  # divided, never times


def test_grey_to_white_to_saturation() -> None:
    assert pytest.approx(2.473931, abs=5e-7) == standards.AIM_WHITE_AT_CLIP_STOPS
    rest = standards.AIM_ISO12232_STOPS - standards.AIM_WHITE_AT_CLIP_STOPS
    assert rest == pytest.approx(0.4895, abs=1e-4)


def test_two_trade_values_of_k() -> None:
    """K = 12.5 is chosen; with 14 grey lies 0.1635 EV nearer to saturation."""
    low = stops_below_saturation(0.65 * 12.5)
    assert low == pytest.approx(3.263034405833794, abs=1e-6)
    high = stops_below_saturation(0.65 * 14.0)
    assert high == pytest.approx(3.0995356735509145, abs=1e-6)


def test_the_k_that_would_agree_with_the_standard() -> None:
    assert stops_below_saturation(0.65 * 15.385) == pytest.approx(2.96347, abs=5e-5)


def test_saturation_speed() -> None:
    assert saturation_speed(0.78, 0.0) == pytest.approx(100.0, abs=1e-9)
    assert saturation_speed(0.78 / 8.0, 3.0) == pytest.approx(100.0, abs=1e-9)
