"""APEX values against the tables of Exif 2.x annex C and of ASA PH2.12-1961, from memory."""

from __future__ import annotations

import math

import pytest

from profiler.exposure.apex import (
    aperture_value,
    ev100_from_brightness_value,
    f_number_from_aperture_value,
    implied_k_cd_m2,
    iso_from_speed_value,
    luminance_from_brightness_value,
    speed_value,
    time_s_from_time_value,
    time_value,
)
from profiler.exposure.light import ev100_from_luminance, ev_from_settings
from profiler.exposure.stops import exact_f_number, exact_time_s
from profiler.exposure.units import fl_from_cd_m2

F_NUMBERS = (1, 1.4, 2, 2.8, 4, 5.6, 8, 11, 16, 22, 32)
TIMES_S = (
    30, 15, 8, 4, 2, 1, 1 / 2, 1 / 4, 1 / 8, 1 / 15, 1 / 30, 1 / 60, 1 / 125, 1 / 250, 1 / 500,
    1 / 1000, 1 / 2000,
)  # fmt: skip
SPEEDS = (3.125, 6.25, 12.5, 25, 50, 100, 200, 400, 800)
FOOT_LAMBERTS = (0.25, 0.5, 1, 2, 4, 8, 16, 32)  # the table prints 15 and 30 for the last two


@pytest.mark.parametrize(("a_v", "mark"), list(enumerate(F_NUMBERS)))
def test_aperture_values(a_v: int, mark: float) -> None:
    assert aperture_value(exact_f_number(mark)) == pytest.approx(a_v, abs=1e-12)
    assert f_number_from_aperture_value(float(a_v)) == pytest.approx(mark, rel=0.03)


@pytest.mark.parametrize(("t_v", "mark_s"), list(enumerate(TIMES_S, start=-5)))
def test_time_values(t_v: int, mark_s: float) -> None:
    assert time_value(exact_time_s(mark_s)) == pytest.approx(t_v, abs=1e-12)
    assert time_s_from_time_value(float(t_v)) == pytest.approx(mark_s, rel=0.07)


@pytest.mark.parametrize(("s_v", "iso"), list(enumerate(SPEEDS)))
def test_speed_values(s_v: int, iso: float) -> None:
    assert speed_value(iso) == pytest.approx(s_v, abs=1e-12)
    assert iso_from_speed_value(float(s_v)) == pytest.approx(iso, rel=1e-12)


@pytest.mark.parametrize(("b_v", "fl"), list(enumerate(FOOT_LAMBERTS, start=-2)))
def test_brightness_values(b_v: int, fl: float) -> None:
    found = fl_from_cd_m2(luminance_from_brightness_value(float(b_v)))
    assert found == pytest.approx(fl, rel=1e-12)


@pytest.mark.parametrize("zero", ["exif", "asa"])
def test_the_four_values_balance_at_the_implied_k(zero) -> None:
    for b_v in (-3.5, 1.9, 10.2):
        cd_m2 = luminance_from_brightness_value(b_v, zero)
        ev100 = ev100_from_luminance(cd_m2, implied_k_cd_m2(zero))
        assert b_v + speed_value(100.0, zero) == pytest.approx(ev100, abs=1e-12)
        assert ev100_from_brightness_value(b_v, zero) == pytest.approx(ev100, abs=1e-12)


def test_sources_disagree_on_n() -> None:
    """Exif's 1/3.125 is the default; ASA's 2^(-7/4) must be asked for by name."""
    assert speed_value(100.0) == 5.0
    assert speed_value(100.0, "asa") == pytest.approx(4.8939, abs=5e-5)
    assert pytest.approx(0.29730, abs=5e-6) == 2.0**-1.75
    gap = speed_value(100.0) - speed_value(100.0, "asa")
    assert gap == pytest.approx(0.10614381022527536, abs=1e-6)


def test_sources_disagree_on_k() -> None:
    assert implied_k_cd_m2() == pytest.approx(10.707059686360596, abs=1e-6)
    assert math.log2(12.5 / implied_k_cd_m2()) == pytest.approx(0.2234, abs=5e-5)
    assert implied_k_cd_m2("asa") == pytest.approx(11.4, abs=1e-9)
    assert luminance_from_brightness_value(0.0, "asa") == pytest.approx(3.389, abs=5e-4)


def test_brightness_is_not_ev() -> None:
    """A slip seen in scripts writes EV at ISO 100 into BrightnessValue: it is 5 too much."""
    ev100 = ev_from_settings(8.0, 1 / 128)
    cd_m2 = implied_k_cd_m2() * 2.0**ev100 / 100.0
    assert luminance_from_brightness_value(ev100 - 5.0) == pytest.approx(cd_m2, rel=1e-12)
