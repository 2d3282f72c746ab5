"""Light lost on its way, as it is written."""

from __future__ import annotations

import pytest

from profiler.errors import ExposureError
from profiler.exposure.lighting import f_number_at, scaled_guide_number_m
from profiler.onset.corrections import lost_ev, nearest_nd, parse_correction


# Stops = D/log10(2), factor = 2^stops (definition); bellows 2 log2(1 + m), with 18 in on a 12 in
# lens as 2.25 x (US Army SS0512); T = N/sqrt(tau).
@pytest.mark.parametrize(
    ("text", "stops", "digits"),
    [
        ("ND 0.3", 0.99658, 5),
        ("ND 0.6", 1.99316, 5),
        ("nd0.9", 2.98974, 5),
        ("density 1.8", 5.97947, 5),
        ("D 3.0", 9.96578, 5),
        ("ND 4.0", 13.28771, 5),
        ("ND64", 6.0, 9),
        ("ND 400", 8.64386, 5),
        ("ND1000", 9.96578, 5),
        ("factor 1024", 10.0, 9),
        ("8x", 3.0, 9),
        ("x 8", 3.0, 9),
        ("filter factor 2", 1.0, 9),
        ("3 stops", 3.0, 9),
        ("1.5 EV", 1.5, 9),
        ("-0.5 stop", -0.5, 9),
        ("magnification 0.1", 0.2750, 4),
        ("magnification 0.25", 0.6439, 4),
        ("magnification 0.5", 1.1699, 4),
        ("magnification 1", 2.0, 9),
        ("magnification 0.5 pupil 0.5", 2.0, 9),
        ("extension 18 on 12 cm", 1.1699, 4),
        ("extension 180 mm on 120 mm", 1.1699, 4),
        ("100 mm at 0.2 m", 2.0, 9),
        ("converter 2x", 2.0, 9),
        ("converter 1.4", 0.9709, 4),
        ("teleconverter 2", 2.0, 9),
        ("transmission 0.9", 0.1520, 4),
        ("transmission 75 %", 0.4150, 4),
        ("f/2 is T2.2360680", 0.3219, 4),
        ("lamp 2 m to 4 m", 2.0, 9),
        ("distance from 4 m to 2 m", -2.0, 9),
        ("lamp 1 m to 3.2808399 ft", 0.0, 6),
    ],
)
def test_what_a_text_takes(text, stops, digits):
    assert parse_correction(text).stops == pytest.approx(stops, abs=0.6 * 10.0**-digits)


def test_stops_add():
    stack = [parse_correction("ND 0.9"), parse_correction("ND64")]
    assert lost_ev(stack) == pytest.approx(8.98974, abs=5e-6)
    assert lost_ev([]) == 0.0


def test_nearest_nd():
    assert nearest_nd(6.0) == (1.8, pytest.approx(0.0205, abs=1e-4))


# GN = N d, sqrt of ISO and power (ISO 1230:1992 by its common definition)
@pytest.mark.parametrize(
    ("guide", "distance", "iso", "power", "f_number"),
    [(40, 5, 100, 0, 8), (40, 5, 400, 0, 16), (40, 5, 100, -2, 4), (40, 10, 400, -2, 4)],
)
def test_guide_number(guide, distance, iso, power, f_number):
    found = f_number_at(scaled_guide_number_m(guide, iso, power), distance)
    assert found == pytest.approx(f_number)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("ND4", "ND4 may be a density or a factor"),
        ("ND 2", "may be a density or a factor"),
        ("4", "a bare number may be a density, a factor or stops"),
        ("yellow", "it is not understood"),
        ("factor 0.5", "a filter factor is 1 or more"),
        ("transmission 0", "above 0 and at most 1"),
        ("transmission 120 %", "above 0 and at most 1"),
        ("extension 80 on 120 mm", "less than the focal length"),
        ("100 mm at 0.05 m", "not beyond the focal length"),
        ("converter 0", "above 0"),
        ("f/4 is T2", "faster than f/4"),
        ("lamp 0 m to 2 m", "above 0"),
    ],
)
def test_refusals(text, words):
    with pytest.raises(ExposureError, match=words):
        parse_correction(text)
