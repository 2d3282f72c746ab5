"""Camera settings as they are written: what is read is what was written."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from profiler.errors import ExposureError
from profiler.exposure.marks import F_SCALE, TIME_SCALE
from profiler.onset.camera import (
    Aperture,
    CameraSetting,
    Shutter,
    parse_aperture,
    parse_setting,
    parse_shutter,
)

F_MARKS = sorted({marks[0] for steps in F_SCALE.values() for marks, _ in steps})
TIMES = sorted({marks[0] for steps in TIME_SCALE.values() for marks, _ in steps})
APERTURES = st.builds(Aperture, marked=st.sampled_from(F_MARKS), word=st.sampled_from("fT"))
ANGLES = st.builds(
    lambda tenths, fps: parse_shutter(f"{tenths / 10:g}deg {fps:g}fps"),
    st.integers(1, 3600),
    st.sampled_from([23.976, 24.0, 25.0, 29.97, 30.0, 50.0, 60.0]),
)
SHUTTERS = st.one_of(st.none(), st.builds(Shutter, marked_s=st.sampled_from(TIMES)), ANGLES)


@given(APERTURES, SHUTTERS)
def test_a_setting_returns_from_its_label(aperture, shutter):
    setting = CameraSetting(aperture=aperture, shutter=shutter)
    back = parse_setting(setting.label)
    assert back.aperture == aperture
    if shutter is None:
        assert back.shutter is None
        return
    assert back.shutter.marked_s == pytest.approx(shutter.marked_s, rel=1e-9)
    assert (back.shutter.angle_deg, back.shutter.fps) == (shutter.angle_deg, shutter.fps)


@given(APERTURES)
def test_an_aperture_returns_from_its_label(aperture):
    assert parse_aperture(aperture.label) == aperture


@given(SHUTTERS.filter(lambda s: s is not None))
def test_a_shutter_returns_from_its_label(shutter):
    back = parse_shutter(shutter.label)
    assert back.marked_s == pytest.approx(shutter.marked_s, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "exact"),
    [("8", 8.0), ("f/11", 128**0.5), ("T2.8", 8**0.5), ("5,6", 32**0.5), ("f/5.6+3", 6.2767)],
)
def test_apertures(text, exact):
    assert parse_aperture(text).exact() == pytest.approx(exact, abs=5e-5)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("1/60", 1 / 64),
        ("0.5", 0.5),
        ("2 s", 2.0),
        ("15", 16.0),
        ("180deg 24fps", 1 / 48),
        ("172.8 deg 24 fps", 1 / 50),
        ("90deg 24fps", 1 / 96),
        ("270deg 30fps", 1 / 40),
    ],
)
def test_times(text, seconds):
    """t = angle/(360 fps) (common practice); marks by the exact series."""
    assert parse_shutter(text).seconds() == pytest.approx(seconds)


@pytest.mark.parametrize(
    ("parse", "text", "words"),
    [
        (parse_aperture, "f/0", "not above 0"),
        (parse_aperture, "1/60", "Write f/8, T2.8 or 8"),
        (parse_aperture, "f/8 1/60", "it isn't an aperture"),
        (parse_aperture, "open", "not understood"),
        (parse_shutter, "f/8", "it isn't a time"),
        (parse_shutter, "180deg", "needs its frame rate"),
        (parse_shutter, "400deg 24fps", "beyond a full turn"),
        (parse_shutter, "0", "not above 0"),
        (parse_setting, "f/8 T8 1/60", "both an f-number and a T-stop"),
        (parse_setting, "f/8 1/60 180deg 24fps", "both a time and a shutter angle"),
        (parse_setting, "EV 12", "the aperture is missing"),
    ],
)
def test_refusals(parse, text, words):
    with pytest.raises(ExposureError, match=words):
        parse(text)
