"""Offset, EI and saturation speed: signs and worked numbers."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from profiler.calibration.fit.offset import (
    exposure_index,
    find_headroom,
    offset_ev,
    saturation_speed,
)
from profiler.errors import ExposureError
from profiler.exposure.aims import parse_aim
from profiler.standards import AIM_ISO12232_STOPS


def test_sign_of_the_offset():
    """3.5 stops of headroom and an aim of 2.963: give 0.537 stop more, EI = label / 1.451."""
    offset = offset_ev(3.5, AIM_ISO12232_STOPS)
    assert offset == pytest.approx(0.537, abs=5e-4)
    assert 400.0 / exposure_index(400, 0.537) == pytest.approx(1.451, abs=5e-4)
    assert round(exposure_index(400, offset)) == 276


def test_a_higher_black_means_a_lower_level_and_a_shorter_span():
    """Worked by hand: span 1000 DN, u(black) 10 DN, u(log2 level) 0.01, their covariance -0.05.

    Headroom falls by 1/(1000 ln 2) = 0.0014427 EV a DN of black, and by one EV an EV of level:
    0.0014427^2 100 + 2 0.0014427 (-0.05) + 0.01^2 = 1.6387e-4, of which 7.5e-5 stay when black
    is known: 0.0094 EV from black. With either sign turned it would be 0.0194.
    """
    fit = SimpleNamespace(
        channels=("Y",),
        clip=(SimpleNamespace(level_dn=1100.0, u_dn=0.0, seen=True),),
        response=SimpleNamespace(
            black_dn=np.array([100.0]),
            metered_dn=np.array([125.0]),
            covariance=np.array([[100.0, -0.05], [-0.05, 1e-4]]),
        ),
    )
    found = find_headroom(fit)
    assert found.headroom_ev == pytest.approx([3.0])
    assert found.black_u_ev == pytest.approx([0.009427], abs=2e-6)
    assert found.scatter_u_ev == pytest.approx([math.sqrt(7.5e-5)])


# ISO 12232 S_sat = 78/H_sat; H x S of a reading, via colour-hdri q = 0.65 (computed)
@pytest.mark.parametrize(
    ("h_times_s", "stops"),
    [(10.0, 2.9635), (8.125, 3.2630), (9.1, 3.0995), (9.3106, 3.0665), (12.6624, 2.6229)],
)
def test_saturation_speed_of_a_true_label(h_times_s, stops):
    assert saturation_speed(h_times_s / 400.0, stops) == pytest.approx(400.0, rel=5e-5)


def test_saturation_speed_of_the_standard():
    assert saturation_speed(0.78, 0.0) == pytest.approx(100.0)  # H_sat = 0.78 lx s: S_sat 100


@pytest.mark.parametrize(
    ("text", "stops"),
    [("iso12232", math.log2(7.8)), ("white-at-clip", math.log2(1 / 0.18)), ("3.25", 3.25)],
)
def test_aims(text, stops):
    assert parse_aim(text) == pytest.approx(stops)


@pytest.mark.parametrize("text", ["grey", "-1", "0", "9", "nan", ""])
def test_no_aim(text):
    with pytest.raises(ExposureError, match="isn't a number of stops below clip"):
        parse_aim(text)
