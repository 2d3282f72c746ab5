"""Sums of light against worked figures."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from profiler.exposure.lighting import (
    distance_change_ev,
    f_number_at,
    f_number_for_pops,
    flash_over_ambient_ev,
    flash_over_ambient_from_share,
    flash_share,
    key_over_fill_ev,
    key_to_fill,
    lighting_ratio,
    lit_over_shadow_ev,
    pops_ev,
    reach_flash_share,
    scaled_guide_number_m,
    sum_of_f_numbers,
    total_over_ambient_ev,
    total_over_flash_ev,
)


def test_f_numbers_add_as_squares() -> None:
    """Rule read at speedlighter.ca: two lights of f/5.6 make f/8; the figures computed."""
    assert sum_of_f_numbers(2**2.5, 2**2.5) == pytest.approx(8.0, rel=1e-12)
    assert sum_of_f_numbers(8, 8) == pytest.approx(11.314, abs=5e-4)
    total = sum_of_f_numbers(8, 2**2.5)
    assert total == pytest.approx(9.797958971132712, abs=1e-9)
    assert 2 * math.log2(total / 8) == pytest.approx(0.58496, abs=5e-6)
    marked = sum_of_f_numbers(8, 5.6)
    assert marked == pytest.approx(9.7652, abs=5e-5)
    assert 2 * math.log2(total / marked) == pytest.approx(0.00965, abs=5e-6)


# Computed: log2 n.
@pytest.mark.parametrize(
    ("pops", "stops", "digits"),
    [
        (2, 1, 0),
        (3, 1.584962500721156, 9),
        (4, 2, 0),
        (5, 2.3219, 4),
        (6, 2.5850, 4),
        (8, 3, 0),
        (16, 4, 0),
    ],
)
def test_pops(pops: int, stops: float, digits: int) -> None:
    tolerance = 0.5 * 10.0**-digits if digits else 1e-12
    assert pops_ev(pops) == pytest.approx(stops, abs=tolerance)
    assert f_number_for_pops(8.0, pops) == pytest.approx(sum_of_f_numbers(*[8.0] * pops))


# Computed: flash d stops over ambient; share in %, total over ambient, total over flash.
SHARES = [
    (0.0, 50.00, 1.0000, 1.0000),
    (0.5, 58.58, 1.2716, 0.7716),
    (1.0, 66.67, 1.5850, 0.5850),
    (1.5, 73.88, 1.9368, 0.4368),
    (2.0, 80.00, 2.3219, 0.3219),
    (3.0, 88.89, 3.1699, 0.1699),
    (4.0, 94.12, 4.0875, 0.0875),
]


@pytest.mark.parametrize(("d", "percent", "over_ambient", "over_flash"), SHARES)
def test_flash_with_ambient(
    d: float, percent: float, over_ambient: float, over_flash: float
) -> None:
    assert 100 * flash_share(d) == pytest.approx(percent, abs=5.1e-3)
    assert total_over_ambient_ev(d) == pytest.approx(over_ambient, abs=5.1e-5)
    assert total_over_flash_ev(d) == pytest.approx(over_flash, abs=5.1e-5)
    ambient = 4.0
    flash = ambient * 2 ** (d / 2)
    assert flash_over_ambient_ev(flash, ambient) == pytest.approx(d, abs=1e-12)
    total = sum_of_f_numbers(flash, ambient)
    assert flash_over_ambient_ev(total, ambient) == pytest.approx(over_ambient, abs=5.1e-5)


@given(st.floats(-30.0, 30.0))
@settings(derandomize=True, deadline=None)
def test_share_and_back(d: float) -> None:
    assert flash_over_ambient_from_share(flash_share(d)) == pytest.approx(d, abs=1e-6)
    assert total_over_ambient_ev(d) - total_over_flash_ev(d) == pytest.approx(d, abs=1e-9)


def test_shares_far_out_stay_finite() -> None:
    assert flash_share(-900.0) == pytest.approx(0.0, abs=1e-200)
    assert flash_share(900.0) == 1.0
    assert total_over_ambient_ev(5000.0) == 5000.0


@given(st.floats(-5.0, 5.0), st.floats(0.02, 0.98))
@settings(derandomize=True, deadline=None)
def test_ways_to_a_share(d: float, share: float) -> None:
    """Against plain sums of light: flash and ambient as amounts, then the iris."""
    flash, ambient = 2.0**d, 1.0
    change = reach_flash_share(d, share)
    by_power = flash * 2.0**change.flash_power_ev
    assert by_power / (by_power + ambient) == pytest.approx(share)
    iris = 2.0**-change.close_after_power_ev
    assert (by_power + ambient) * iris == pytest.approx(flash + ambient)
    by_time = ambient * change.time_factor
    assert flash / (flash + by_time) == pytest.approx(share)
    iris = 2.0**-change.close_after_time_ev
    assert (flash + by_time) * iris == pytest.approx(flash + ambient)


# Read in en.wikipedia "Lighting ratio" (crediting the ASC).
@pytest.mark.parametrize(("key", "fill", "ratio"), [(200, 100, 3), (800, 200, 5)])
def test_lighting_ratio(key: float, fill: float, ratio: float) -> None:
    assert lighting_ratio(key, fill) == ratio
    assert lighting_ratio(key, fill / 2, fill / 2) == ratio
    assert key_over_fill_ev(ratio) == pytest.approx(math.log2(key / fill))


# Computed: ratio, key over fill, lit side over shadow side, in stops.
@pytest.mark.parametrize(
    ("ratio", "key_fill", "lit_shadow"),
    [
        (2, 0, 1),
        (3, 1, 1.5850),
        (4, 1.5850, 2),
        (5, 2, 2.3219),
        (8, 2.8074, 3),
        (9, 3, 3.1699),
        (16, 3.9069, 4),
    ],
)
def test_ratio_in_stops(ratio: float, key_fill: float, lit_shadow: float) -> None:
    assert key_over_fill_ev(ratio) == pytest.approx(key_fill, abs=5.1e-5)
    assert lit_over_shadow_ev(ratio) == pytest.approx(lit_shadow, abs=5.1e-5)


def test_sources_disagree_on_two_stops() -> None:
    """800 with 200 is 5:1 here; an older edition of the same article says 4:1, plain key : fill.

    Two stops are 4:1 between lit side and shadow side only.
    """
    assert lighting_ratio(800, 200) == 5
    assert key_to_fill(2.0) == 4
    assert lit_over_shadow_ev(4) == 2


def test_distance_and_guide_numbers() -> None:
    """GN = N d, with the square root of ISO and of power; inverse squares (common practice)."""
    assert distance_change_ev(2.0, 1.0) == 2.0
    assert distance_change_ev(1.0, 2**0.5) == pytest.approx(-1.0)
    guide = 8.0 * 5.0
    assert f_number_at(guide, 10.0) == 4.0
    assert scaled_guide_number_m(guide, iso=200.0) == pytest.approx(40 * 2**0.5)
    assert scaled_guide_number_m(guide, power_ev=-4.0) == pytest.approx(10.0)
