"""Readings are read in every form, written back, turned into the EV that the meter asked for."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from profiler.errors import SheetError
from profiler.exposure.display import display_step_ev
from profiler.exposure.readings import (
    Reading,
    format_reading,
    parse_reading,
)
from profiler.records import MODES, Meter

METER = Meter()
FLASH = ("flash-dome", "flash-flat", "flash-spot")


# As typed, canonical form.
FORMS = [
    ("EV 10.3", "EV 10.3"),
    ("ev10.3", "EV 10.3"),
    ("EV: 10.3", "EV 10.3"),
    ("10.3 EV", "EV 10.3"),
    ("10,3 EV", "EV 10.3"),
    ("EV -2.5", "EV -2.5"),
    ("−2.5 EV", "EV -2.5"),
    ("EV 0", "EV 0"),
    ("EV 10.3 ISO 100", "EV 10.3 ISO 100"),
    ("EV 12.3 iso400", "EV 12.3 ISO 400"),
    ("ISO 400 EV 12.3", "EV 12.3 ISO 400"),
    ("EV 12.3 EI 400", "EV 12.3 EI 400"),
    ("EV 12 at ISO 400", "EV 12 ISO 400"),
    ("EV 12 @ ASA 400", "EV 12 ISO 400"),
    ("LV 12", "EV 12"),
    ("12.3 LV", "EV 12.3"),
    ("LV 12 ISO 100", "EV 12 ISO 100"),
    ("6.5 klx", "6.5 klx"),
    ("12 kLux", "12 klx"),
    ("60 ft-c", "60 fc"),
    ("60 ftc", "60 fc"),
    ("60 ft-cd", "60 fc"),
    ("12 ft-L", "12 fL"),
    ("f/8 1/125 ASA 100", "f/8 1/125 ISO 100"),
    ("f/5.6+1/3 1/60 ISO 400", "f/5.6+1/3 1/60 ISO 400"),
    ("f/5.6 + 2/3 1/60 ISO 400", "f/5.6+2/3 1/60 ISO 400"),
    ("f/8+1/2 ISO 100", "f/8+5 ISO 100"),
    ("f/8₅ ISO 100", "f/8+5 ISO 100"),
    ("f/5.6₁ 1/60 ISO 100", "f/5.6+1 1/60 ISO 100"),
    ("F 11³ ISO 100", "f/11+3 ISO 100"),
    ("f/8.50 1/60 ISO 100", "f/8.50 1/60 ISO 100"),
    ("f/5.630 1/60 ISO 100", "f/5.630 1/60 ISO 100"),
    ("f/2.83 1/60 ISO 100", "f/2.83 1/60 ISO 100"),
    ("f/128 1/60 ISO 100", "f/128 1/60 ISO 100"),
    ("f/8 bulb 64 s ISO 100", "f/8 64 s ISO 100"),
    ("f/8 2 min 30 s ISO 100", "f/8 150 s ISO 100"),
    ("650 lx", "650 lx"),
    ("650LUX", "650 lx"),
    ("0,125 lx", "0.125 lx"),
    ("60 fc", "60 fc"),
    ("60 foot-candles", "60 fc"),
    ("41 cd/m2", "41 cd/m2"),
    ("41 cd/m²", "41 cd/m2"),
    ("41 cd/m^2", "41 cd/m2"),
    ("41 nits", "41 cd/m2"),
    ("12 fL", "12 fL"),
    ("12 FL", "12 fL"),
    ("f/8 1/125 ISO 100", "f/8 1/125 ISO 100"),
    ("F8, 1/125s; ISO100.", "f/8 1/125 ISO 100"),
    ("ƒ/8 1/125 s ISO 100", "f/8 1/125 ISO 100"),
    ("ISO 100/21° 1/125 f/8", "f/8 1/125 ISO 100"),
    ("f 8  1 / 125  ISO 100", "f/8 1/125 ISO 100"),
    ("f/5,6 +3 1/60 ISO 400", "f/5.6+3 1/60 ISO 400"),
    ("f/5.6+0 1/60 ISO 400", "f/5.6 1/60 ISO 400"),
    ('f/8 0.5" ISO 100', "f/8 0.5 s ISO 100"),
    ("f/8 0,5 s ISO 100", "f/8 0.5 s ISO 100"),
    ("f/8 2″ ISO 100", "f/8 2 s ISO 100"),
    ("f/8 1/3 ISO 100", "f/8 1/3 ISO 100"),
    ("f/8 3 min ISO 100", "f/8 180 s ISO 100"),
    ("f/11+2 ISO 100", "f/11+2 ISO 100"),
    ("f/11+2 1/125 ISO 100", "f/11+2 1/125 ISO 100"),
    ("T2.8 180deg 24fps EI 800", "T2.8 180deg 24fps EI 800"),
    ("t/2.8 172.8° 23.976 fps ei 800", "T2.8 172.8deg 23.976fps EI 800"),
    ("T2.8+5 1/48 EI 800", "T2.8+5 1/48 EI 800"),
    (" Dark ", "dark"),
]


@pytest.mark.parametrize(("typed", "canonical"), FORMS)
def test_forms(typed: str, canonical: str) -> None:
    reading = parse_reading(typed)
    assert format_reading(reading) == canonical
    assert parse_reading(canonical) == reading
    assert reading.text == typed
    assert reading.is_dark is (canonical == "dark")


PLAIN = st.floats(1e-6, 1e6).map(lambda x: float(f"{x:.6g}"))
APERTURES = st.builds(
    lambda aperture, more: {"aperture": aperture, "more": more},
    st.floats(0.7, 90.0).map(lambda x: round(x, 3)),
    st.sampled_from([Fraction(n, 10) for n in range(10)] + [Fraction(1, 3), Fraction(2, 3)]),
)
ISOS = st.builds(
    lambda iso, word: {"iso": iso, "iso_word": word},
    st.one_of(st.integers(1, 10**6).map(float), PLAIN),
    st.sampled_from(["ISO", "EI"]),
)
TIMES = st.one_of(
    st.just({}),
    st.integers(1, 32000).map(lambda n: {"time_s": 1.0 / n}),
    PLAIN.map(lambda t: {"time_s": t}),
    st.builds(
        lambda angle, fps: {"angle_deg": angle, "fps": fps},
        st.floats(0.1, 360.0).map(lambda x: round(x, 2)),
        st.floats(1.0, 1000.0).map(lambda x: round(x, 3)),
    ),
)
READINGS = st.one_of(
    st.just(Reading(form="dark")),
    st.floats(-39.9, 39.9).map(lambda ev: Reading(form="ev", value=ev)),
    st.builds(lambda ev, iso: Reading(form="ev", value=ev, **iso), st.floats(-20.0, 20.0), ISOS),
    st.builds(
        lambda v, u: Reading(form="illuminance", value=v, unit=u),
        PLAIN,
        st.sampled_from(["lx", "klx", "fc"]),
    ),
    st.builds(
        lambda v, u: Reading(form="luminance", value=v, unit=u),
        PLAIN,
        st.sampled_from(["cd/m2", "fL"]),
    ),
    st.builds(
        lambda word, a, t, iso: Reading(form="settings", aperture_word=word, **a, **t, **iso),
        st.sampled_from(["f", "T"]),
        APERTURES,
        TIMES,
        ISOS,
    ),
)


@given(READINGS)
@settings(derandomize=True, deadline=None)
def test_round_trip(reading: Reading) -> None:
    assert parse_reading(format_reading(reading)) == reading


@given(
    st.one_of(
        st.text(max_size=40),
        st.text(alphabet='0123456789.,/+- fFtTeEvVisoldxcm"°', max_size=30),
    )
)
@settings(derandomize=True, deadline=None, max_examples=400)
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        reading = parse_reading(text)
    except SheetError:
        return
    assert parse_reading(format_reading(reading)) == reading
    assert reading.is_dark or display_step_ev([reading]) > 0.0


# EV at ISO 100: from the definitions, with K = 12.5 cd/m2, C = 250 lx flat and 340 lx dome.
EV100 = [
    ("EV 10.3", "spot", 10.3),
    ("EV 10.3", "incident-dome", 10.3),
    ("EV 12.3 ISO 400", "spot", 10.3),
    ("EV 12.3 EI 400", "incident-flat", 10.3),
    ("4096 cd/m2", "spot", 15.0),
    ("81920 lx", "incident-flat", 15.0),
    ("111411.2 lx", "incident-dome", 15.0),
    ("12 fL", "spot", math.log2(12 * 3.4262590996 * 100 / 12.5)),
    ("60 fc", "incident-flat", math.log2(60 * 10.7639104167 * 100 / 250)),
    ("60 fc", "incident-dome", math.log2(60 * 10.7639104167 * 100 / 340)),
    ("f/8 1/125 ISO 100", "spot", 13.0),
    ("f/8 1/125 ISO 100", "incident-dome", 13.0),
    ("f/16 1/125 ISO 100", "spot", 15.0),
    ("f/5.6+3 1/60 ISO 400", "spot", 5.0 + 0.3 + 6.0 - 2.0),
    ("f/11 1/60 ISO 800", "spot", 7.0 + 6.0 - 3.0),
    ("f/8 0.5 s ISO 100", "spot", 7.0),
    ("T2.8 180deg 24fps EI 800", "incident-dome", 3.0 + math.log2(48) - 3.0),
    ("T2.8 180deg 25fps EI 800", "spot", 3.0 + math.log2(50) - 3.0),
    ("f/11+2 ISO 100", "flash-dome", 7.2),
    ("f/11+2 1/125 ISO 100", "flash-flat", 7.2),
    ("f/8 ISO 400", "flash-spot", 4.0),
]


@pytest.mark.parametrize(("text", "mode", "ev100"), EV100)
def test_metered_ev100(text: str, mode: str, ev100: float) -> None:
    assert parse_reading(text).metered_ev100(mode, METER) == pytest.approx(ev100, abs=1e-9)


def test_marks_in_a_reading_count_from_exact_stops_or_as_marked() -> None:
    reading = parse_reading("f/5.6+3 1/60 ISO 100")
    assert reading.f_number() == pytest.approx(6.2767, abs=5e-5)
    assert reading.f_number("as-marked") == pytest.approx(6.2136, abs=5e-5)
    assert reading.exposure_time_s() == 1 / 64
    assert reading.exposure_time_s("as-marked") == 1 / 60
    gap = reading.metered_ev100("spot", METER) - reading.metered_ev100("spot", METER, "as-marked")
    assert gap == pytest.approx(0.0291 + 0.0931, abs=1e-4)


def test_ambiguous_marks_follow_the_series() -> None:
    reading = parse_reading("f/13 1/20 ISO 100")
    third = reading.metered_ev100("spot", METER)
    half = reading.metered_ev100("spot", METER, series="half")
    assert third == pytest.approx(22 / 3 + 13 / 3, abs=1e-9)
    assert half == pytest.approx(7.5 + 4.5, abs=1e-9)


def test_an_angle_is_no_mark() -> None:
    reading = parse_reading("T2.8 180deg 25fps EI 800")
    assert reading.exposure_time_s("exact") == 1 / 50


def test_the_meter_s_own_constants_count() -> None:
    meter = Meter(k_cd_m2=14.0, c_flat_lx=270.0, c_dome_lx=320.0)
    for text, mode, factor in [
        ("100 cd/m2", "spot", 14.0 / 12.5),
        ("100 lx", "incident-flat", 270.0 / 250.0),
        ("100 lx", "incident-dome", 320.0 / 340.0),
    ]:
        reading = parse_reading(text)
        shift = reading.metered_ev100(mode, METER) - reading.metered_ev100(mode, meter)
        assert shift == pytest.approx(math.log2(factor), abs=1e-12)


@given(READINGS, st.sampled_from(MODES))
@settings(derandomize=True, deadline=None)
def test_a_reading_suits_a_mode_or_is_refused(reading: Reading, mode: str) -> None:
    try:
        ev100 = reading.metered_ev100(mode, METER)
    except SheetError:
        return
    assert math.isfinite(ev100)
    assert (mode in FLASH) <= (reading.form == "settings")


def test_a_reading_checks_itself() -> None:
    with pytest.raises(ValueError, match="form ev needs its value"):
        Reading(form="ev")
    with pytest.raises(ValueError, match="form settings needs aperture and iso"):
        Reading(form="settings", aperture=8.0)
    with pytest.raises(ValueError, match="angle_deg and fps go together"):
        Reading(form="settings", aperture=8.0, iso=100.0, fps=24.0)
    with pytest.raises(ValueError, match="more must be a part of a stop, not 1"):
        Reading(form="settings", aperture=8.0, iso=100.0, more=Fraction(1))
    with pytest.raises(ValueError, match="form luminance has no unit 'lx'"):
        Reading(form="luminance", value=8.0, unit="lx")
    with pytest.raises(ValueError, match="form dark has no aperture"):
        Reading(form="dark").f_number()
    with pytest.raises(ValueError, match="rule must be one of exact, as-marked, not 'marked'"):
        parse_reading("f/8 ISO 100").f_number("marked")  # type: ignore[arg-type]
