"""Filters, bellows, T-stops, shutter angles, units, target densities against worked figures."""

from __future__ import annotations

import math

import pytest

from profiler.exposure.filters import (
    bellows_ev,
    bellows_ev_from_extension,
    magnification_at,
    stops_from_density,
    stops_from_factor,
    t_stop,
    teleconverter_ev,
    transmission_loss_ev,
    transmittance_from_stops,
)
from profiler.exposure.flicker import time_from_angle_s
from profiler.exposure.readings import parse_reading
from profiler.exposure.units import (
    asb_from_cd_m2,
    cd_ft2_from_cd_m2,
    cd_m2_from_fl,
    density_from_reflectance,
    fc_from_lx,
    fl_from_cd_m2,
    lx_from_fc,
)


# Computed: D/log10 2.
@pytest.mark.parametrize(
    ("density", "stops"),
    [
        (0.3, 0.99658),
        (0.6, 1.99316),
        (0.9, 2.98974),
        (1.8, 5.97947),
        (2.0, 6.64386),
        (3.0, 9.96578),
        (4.0, 13.28771),
    ],
)
def test_densities(density: float, stops: float) -> None:
    assert stops_from_density(density) == pytest.approx(stops, abs=5.1e-6)
    assert stops_from_factor(10.0**density) == pytest.approx(stops, abs=5.1e-6)


@pytest.mark.parametrize(
    ("factor", "stops"), [(1000, 9.96578), (1024, 10.0), (400, 8.64386), (64, 6.0), (8, 3.0)]
)
def test_factors(factor: float, stops: float) -> None:
    assert stops_from_factor(factor) == pytest.approx(stops, abs=5.1e-6)


def test_sources_disagree_on_a_thousand() -> None:
    """Trade tables call D 3.0 ten stops, 1024 "1000" (opticalglasscn.com, camera-wiki.org)."""
    assert stops_from_density(3.0) == pytest.approx(9.965784284662087, abs=1e-6)
    gap = stops_from_factor(1024) - stops_from_density(3.0)
    assert gap == pytest.approx(0.03421571533791301, abs=1e-6)
    assert stops_from_factor(1000) == pytest.approx(stops_from_density(3.0))


# Computed: (1 + m)^2; 2.25 and 2.78 read in a US Army course (SS0512), printed 2.25 and 2.8.
@pytest.mark.parametrize(
    ("m", "pupil", "stops"),
    [
        (0.05, 1.0, 0.14),
        (0.1, 1.0, 0.2750),
        (0.25, 1.0, 0.6439),
        (0.5, 1.0, 1.1699250014423124),
        (1.0, 1.0, 2.0),
        (0.5, 0.5, 2.0),
    ],
)
def test_bellows(m: float, pupil: float, stops: float) -> None:
    digits = 5e-3 if m == 0.05 else 5.1e-5
    assert bellows_ev(m, pupil) == pytest.approx(stops, abs=digits)


def test_bellows_examples() -> None:
    assert 2 ** bellows_ev_from_extension(18, 12) == pytest.approx(2.25, abs=1e-12)
    assert 2 ** bellows_ev(8 / 12) == pytest.approx(2.78, abs=5e-3)
    assert bellows_ev(0.5) == pytest.approx(1.1699250014423124, abs=1e-9)


def test_bellows_of_a_focused_lens() -> None:
    """From 5 m a 50 mm lens loses 0.029 EV."""
    m = magnification_at(0.05, 5.0)
    assert bellows_ev(m) == pytest.approx(0.029, abs=5e-4)
    image_m = 0.05 * (1 + m)
    assert bellows_ev_from_extension(image_m, 0.05) == pytest.approx(bellows_ev(m))


# Computed: N/sqrt(tau). One calculator site prints both f = T sqrt(tau) and its inverse.
@pytest.mark.parametrize(
    ("f_number", "tau", "t", "loss_ev"), [(2.8, 0.90, 2.9515, 0.1520), (2.0, 0.80, 2.2361, 0.3219)]
)
def test_t_stops(f_number: float, tau: float, t: float, loss_ev: float) -> None:
    assert t_stop(f_number, tau) == pytest.approx(t, abs=5e-5)
    assert transmission_loss_ev(tau) == pytest.approx(loss_ev, abs=5.1e-5)
    assert 2 * math.log2(t_stop(f_number, tau) / f_number) == pytest.approx(loss_ev, abs=5.1e-5)
    assert transmittance_from_stops(f_number, t_stop(f_number, tau)) == pytest.approx(tau)


def test_t_stop_with_more_digits() -> None:
    assert t_stop(2.8, 0.9) == pytest.approx(2.9514591494904874, abs=1e-9)
    assert transmission_loss_ev(0.75) == pytest.approx(0.42, abs=5.1e-3)


def test_teleconverters() -> None:
    assert teleconverter_ev(2.0) == 2.0
    assert teleconverter_ev(math.sqrt(2.0)) == pytest.approx(1.0)


# Rule read in an OpenTrackIO header and on cinematography pages; angle, fps, 1/time.
@pytest.mark.parametrize(
    ("angle", "fps", "inverse"),
    [(180, 24, 48), (172.8, 24, 50), (144, 24, 60), (180, 25, 50), (90, 24, 96), (270, 30, 40)],
)
def test_shutter_angles(angle: float, fps: float, inverse: float) -> None:
    assert 1 / time_from_angle_s(angle, fps) == pytest.approx(inverse, rel=1e-12)
    reading = parse_reading(f"T2.8 {angle}deg {fps}fps EI 800")
    assert reading.exposure_time_s() == pytest.approx(1 / inverse, rel=1e-12)


def test_units_of_light() -> None:
    """From the exact foot; also read in encyclopaedia copies "Foot-lambert". Older pages: 3.425."""
    assert lx_from_fc(1.0) == pytest.approx(10.763910416709722, abs=1e-9)
    assert cd_m2_from_fl(1.0) == pytest.approx(3.4262590996353905, abs=1e-9)
    assert cd_ft2_from_cd_m2(10.7639104) == pytest.approx(1.0, abs=5e-9)
    assert asb_from_cd_m2(1 / math.pi) == pytest.approx(1.0, rel=1e-15)
    assert asb_from_cd_m2(cd_m2_from_fl(1.0)) == pytest.approx(10.7639, abs=5e-5)
    assert cd_ft2_from_cd_m2(cd_m2_from_fl(math.pi)) == pytest.approx(1.0, rel=1e-12)
    for there, back in (
        (lx_from_fc, fc_from_lx),
        (cd_m2_from_fl, fl_from_cd_m2),
    ):
        assert back(there(7.3)) == pytest.approx(7.3, rel=1e-14)


def test_a_perfect_diffuser() -> None:
    """L in fL = R E in fc; L in cd/m2 = R E/pi in lx."""
    e_fc, r = 60.0, 0.18
    cd_m2 = r * lx_from_fc(e_fc) / math.pi
    assert fl_from_cd_m2(cd_m2) == pytest.approx(r * e_fc, rel=1e-12)


def test_f_number_and_tenths() -> None:
    """5.6 and 3 tenths from the exact stop (from memory): 6.2767; from the mark 6.2136."""
    reading = parse_reading("f/5.6+3 ISO 100")
    assert reading.f_number() == pytest.approx(6.2767, abs=5e-5)
    assert reading.f_number("as-marked") == pytest.approx(6.2136, abs=5e-5)
    gap = 2 * math.log2(reading.f_number() / reading.f_number("as-marked"))
    assert gap == pytest.approx(0.029, abs=5e-4)


# Computed: -log10 R.
@pytest.mark.parametrize(
    ("reflectance", "density"),
    [
        (0.18, 0.7447),
        (0.16, 0.7959),
        (0.127, 0.8962),
        (0.125, 0.9031),
        (0.90, 0.0458),
        (0.05, 1.3010),
        (0.03, 1.5229),
    ],
)
def test_target_densities(reflectance: float, density: float) -> None:
    assert density_from_reflectance(reflectance) == pytest.approx(density, abs=5e-5)


def test_target_density_with_more_digits() -> None:
    assert density_from_reflectance(0.18) == pytest.approx(0.744727494896694, abs=1e-9)


# Computed; the print grey scale with steps of 0.1 read at aim-dtp.net.
@pytest.mark.parametrize(("density", "stops"), [(0.1, 0.3322), (0.15, 0.4983), (0.3, 0.9966)])
def test_grey_scale_steps(density: float, stops: float) -> None:
    assert stops_from_density(density) == pytest.approx(stops, abs=5e-5)


def test_a_card_is_as_good_as_its_label() -> None:
    """17 to 19 % for a label of 18 %: about +-0.08 EV (common practice, no source)."""
    low = stops_from_density(density_from_reflectance(0.17) - density_from_reflectance(0.18))
    high = stops_from_density(density_from_reflectance(0.18) - density_from_reflectance(0.19))
    assert low == pytest.approx(0.08, abs=5e-3)
    assert high == pytest.approx(0.08, abs=5e-3)
