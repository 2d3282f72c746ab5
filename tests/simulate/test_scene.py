"""What the handheld meter says of a scene."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.simulate.scene import (
    HandMeter,
    Scene,
    metered_ev100,
    reading_text,
    relative_luminance,
)

METERED = [
    # ISO 2720:1974 equations as colour-hdri 0.2.6 evaluates them: L or E at ISO 100, K or C, EV
    ("spot", 1000.0, {"k_cd_m2": 12.5}, 12.96578428),
    ("spot", 4096.0, {"k_cd_m2": 12.5}, 15.0),
    ("incident-flat", 10000.0, {"c_flat_lx": 250.0}, 11.96578428),
    ("incident-dome", 10000.0, {"c_dome_lx": 340.0}, 11.52217763),
]


@pytest.mark.parametrize(("mode", "amount", "constants", "ev"), METERED)
def test_metered_ev(mode: str, amount: float, constants: dict[str, float], ev: float) -> None:
    luminance = amount if mode == "spot" else amount * 0.18 / np.pi
    if amount == 4096.0:
        luminance = 4096.0  # K/100 = 0.125 cd/m2 at EV 0
    scene = Scene(luminance_cd_m2=luminance)
    assert metered_ev100(scene, HandMeter(**constants), mode) == pytest.approx(ev, abs=1e-8)


def test_flash_reading_is_f8_for_160_lx_s() -> None:
    scene = Scene(luminance_cd_m2=160.0 * 0.18 / np.pi, light="flash")
    assert scene.illuminance_lx == pytest.approx(160.0)
    assert 2.0 ** (metered_ev100(scene, HandMeter(), "flash-flat") / 2) == pytest.approx(8.0)


READINGS = [
    (10.3, "spot", 0.1, "EV 10.3"),
    (10.26, "spot", 0.1, "EV 10.3"),
    (10.3, "spot", 0.0, "EV 10.300000"),
    (-0.44, "incident-flat", 0.1, "EV -0.4"),
    (6.2, "spot", 1 / 3, "EV 6.3333"),
    (6.26, "spot", 0.5, "EV 6.5"),
    (6.0, "flash-flat", 0.1, "f/8 ISO 100"),
    (7.2, "flash-flat", 0.1, "f/11+2 ISO 100"),
    (6.96, "flash-flat", 0.1, "f/11 ISO 100"),
    (5.3, "flash-spot", 0.0, "f/5.6+3 ISO 100"),
    (5.3456, "flash-spot", 0.0, "f/5.6+3.456 ISO 100"),
    (-0.7, "flash-flat", 0.1, "f/0.7+3 ISO 100"),
]


@pytest.mark.parametrize(("ev", "mode", "step", "text"), READINGS)
def test_reading_text(ev: float, mode: str, step: float, text: str) -> None:
    assert reading_text(ev, mode, step) == text


def test_light_over_the_frame() -> None:
    scene = Scene(luminance_cd_m2=1.0, vignetting_ev=1.0, surround=0.25, card_width=0.5)
    whole = relative_luminance(scene, 0, 300, 300, 400)
    assert whole.shape == (300, 400)
    assert whole[150, 200] == pytest.approx(1.0, abs=1e-4)
    assert whole[0, 0] == pytest.approx(0.25 * 0.5, rel=0.02)
    assert whole[150, 90] < 0.25
    assert whole[150, 110] > 0.8
    part = relative_luminance(scene, 100, 50, 300, 400)
    assert np.array_equal(part, whole[100:150])


def test_gradient_leaves_the_centre_alone() -> None:
    scene = Scene(luminance_cd_m2=1.0, vignetting_ev=0.0, gradient_ev=1.0, card_width=1.0)
    row = relative_luminance(scene, 150, 1, 300, 400)[0]
    assert row[-1] / row[0] == pytest.approx(2.0, rel=0.01)
    assert row[199:201].mean() == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize("bad", [{"luminance_cd_m2": 0.0}, {"reflectance": 1.1}])
def test_impossible_scenes_are_refused(bad: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="luminance must be above 0, reflectance"):
        Scene(**({"luminance_cd_m2": 1.0} | bad))
