"""Range checks name the quantity, the value, the cure."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from profiler.errors import ExposureError
from profiler.exposure import filters, flicker, light, lighting, stops, units
from profiler.exposure.quantities import exp2, fraction, log2, not_negative, positive
from profiler.exposure.readings import parse_reading
from profiler.records import Meter


@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf, 1e31, 1e-31])
def test_positive_refuses(value: float) -> None:
    with pytest.raises(ExposureError, match=r"^luminance: it must be a number .* cd/m2, not"):
        positive(value, "luminance", "cd/m2")


def test_positive_names_the_bad_element() -> None:
    with pytest.raises(ExposureError, match=r"above 0 s, not -2\. Give the time in s"):
        positive(np.array([1.0, -2.0, 3.0]), "time", "s")
    with pytest.raises(ExposureError, match=r"not nan"):
        positive(np.array([1.0, np.nan]), "time", "s")


def test_positive_hands_the_value_back() -> None:
    array = np.array([1.0, 2.0])
    assert positive(array, "time", "s") is array
    assert positive(np.float64(2.0), "time", "s") == 2.0
    assert positive(np.array(2.0), "time", "s") == 2.0


def test_plain_numbers_stay_plain() -> None:
    assert type(log2(np.float64(8.0))) is float
    assert type(exp2(3)) is float
    assert type(light.ev_from_settings(8, 1 / 64)) is float


def test_arrays_broadcast() -> None:
    ev = light.ev_from_settings(np.array([[4.0], [8.0]]), np.array([1.0, 1 / 2, 1 / 4]))
    assert ev.tolist() == [[4.0, 5.0, 6.0], [6.0, 7.0, 8.0]]


REFUSALS: list[tuple[Callable[[], object], str]] = [
    (lambda: fraction(18.0, "reflectance"), r"^reflectance: .*at most 1, not 18\. Give .* 0\.18"),
    (lambda: fraction(1.01, "reflectance"), r"at most 1, not 1\.01"),
    (lambda: fraction(0.0, "reflectance"), r"above 0 and at most 1, not 0"),
    (lambda: not_negative(-0.3, "density"), r"^density: it must be 0 or more, not -0\.3"),
    (lambda: exp2(2000.0), r"^stops: 2000 stops are beyond any exposure"),
    (lambda: exp2(math.nan), r"^stops: nan stops are beyond"),
    (lambda: light.ev100_from_luminance(100.0, 0.0), r"^meter constant K: .*cd/m2, not 0"),
    (lambda: light.ev100_from_illuminance(100.0, -250.0), r"^meter constant C: .*lx, not -250"),
    (lambda: stops.exact_f_number(0.0), r"^f-number: it must be a number above 0, not 0"),
    (lambda: stops.exact_time_s(-1.0), r"^time: it must be a number above 0 s, not -1"),
    (lambda: stops.nearest_iso_mark(math.nan), r"^ISO: .* not nan"),
    (lambda: filters.stops_from_density(-1.0), r"^density: it must be 0 or more"),
    (lambda: filters.stops_from_factor(0.5), r"^filter factor: a filter factor is 1 or more"),
    (lambda: filters.stops_from_factor(math.nan), r"^filter factor: .* not nan"),
    (lambda: filters.bellows_ev(-0.5), r"^magnification: it must be 0 or more, not -0\.5"),
    (
        lambda: filters.bellows_ev_from_extension(0.04, 0.05),
        r"^image distance: .*less than the foc",
    ),
    (lambda: filters.magnification_at(0.05, 0.04), r"^object distance: .* is not beyond"),
    (lambda: filters.t_stop(2.8, 90.0), r"^transmittance: .*at most 1, not 90"),
    (lambda: filters.transmittance_from_stops(2.8, 2.0), r"^T-stop: T2 is faster than f/2\.8"),
    (
        lambda: lighting.flash_over_ambient_from_share(1.0),
        r"^flash share: .*between 0 and 1, not 1",
    ),
    (lambda: lighting.reach_flash_share(0.0, 0.0), r"^flash share: .*between 0 and 1, not 0"),
    (lambda: lighting.pops_ev(0), r"^number of pops: it must be 1 or more, not 0"),
    (lambda: lighting.key_over_fill_ev(1.0), r"^lighting ratio: a lighting ratio is above 1"),
    (lambda: lighting.lit_over_shadow_ev(0.5), r"^lighting ratio: it must be 1 or more, not 0\.5"),
    (lambda: lighting.sum_of_f_numbers(8.0, 0.0), r"^f-number: it must be a number above 0"),
    (lambda: flicker.time_from_angle_s(361.0, 24.0), r"^shutter angle: .*at most 360 deg, not 361"),
    (lambda: flicker.flicker_ev(0.01, 50.0, 1.5), r"^flicker depth: .*between 0 and 1, not 1\.5"),
    (lambda: flicker.flicker_ev(0.01, 0.0), r"^mains frequency: .*above 0 Hz, not 0"),
    (lambda: units.density_from_reflectance(0.0), r"^reflectance: .*above 0"),
]


@pytest.mark.parametrize(("call", "message"), REFUSALS)
def test_refusals(call: Callable[[], object], message: str) -> None:
    with pytest.raises(ExposureError, match=message):
        call()


def test_programming_mistakes() -> None:
    with pytest.raises(TypeError, match="at least one f-number"):
        lighting.sum_of_f_numbers()
    with pytest.raises(TypeError, match="at least one fill"):
        lighting.lighting_ratio(1.0)
    with pytest.raises(ValueError, match=r"series must be one of full, half, third, not 'fifth'"):
        stops.exact_f_number(8.0, "fifth")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match=r"mode must be one of .*flash-spot, not 'dome'"):
        light.constant_for_mode("dome", Meter())


def test_flicker_of_an_endless_short_exposure_is_endless() -> None:
    assert flicker.flicker_ev(1e-12, 50.0, 1.0) == math.inf
    assert flicker.flicker_ev(1e-12, 50.0, 0.1) == pytest.approx(math.log2(1.1 / 0.9))


LIMITS: list[tuple[Callable[[], float], float]] = [
    (lambda: flicker.time_from_angle_s(360.0, 24.0), 1 / 24),
    (lambda: flicker.ripple_left(1 / 200, 50.0, 0.0), 0.0),
    (lambda: flicker.ripple_left(1 / 200, 50.0, 1.0), 2.0 / math.pi),
    (lambda: filters.stops_from_factor(1.0), 0.0),
    (lambda: filters.bellows_ev_from_extension(0.1, 0.1), 0.0),
    (lambda: filters.transmittance_from_stops(2.8, 2.8), 1.0),
    (lambda: filters.t_stop(2.8, 1.0), 2.8),
    (lambda: lighting.pops_ev(1.0), 0.0),
    (lambda: lighting.lit_over_shadow_ev(1.0), 0.0),
    (lambda: not_negative(0.0, "density"), 0.0),
    (lambda: parse_reading("T2.8 360deg 24fps EI 800").exposure_time_s() or 0.0, 1 / 24),
    (lambda: parse_reading("EV 40").metered_ev100("spot", Meter()), 40.0),
    (lambda: parse_reading("EV -40").metered_ev100("spot", Meter()), -40.0),
]


@pytest.mark.parametrize(("at_limit", "value"), LIMITS)
def test_a_limit_itself_is_taken(at_limit: Callable[[], float], value: float) -> None:
    assert at_limit() == pytest.approx(value, abs=1e-12)
