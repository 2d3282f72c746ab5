"""One quantity as all the others; any chain of conversions comes back to where it started."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from profiler.errors import ExposureError, SheetError
from profiler.onset.convert import convert
from profiler.records import Meter

UNITS = {
    "EV": "EV at ISO 100",
    "cd/m2": "luminance",
    "fL": "luminance, fL",
    "lx": "illuminance",
    "fc": "illuminance, fc",
}


def written(value, unit):
    """The number with all its digits and no exponent, as a reading."""
    digits = format(Decimal(repr(value)), "f")
    return f"EV {digits}" if unit == "EV" else f"{digits} {unit}"


@settings(max_examples=150, deadline=None)
@given(
    st.floats(-6.0, 22.0),
    st.lists(st.sampled_from(sorted(UNITS)), min_size=1, max_size=6),
    st.sampled_from([12.5, 14.0, 11.4]),
    st.sampled_from([250.0, 340.0]),
)
def test_any_chain_returns_to_its_start(ev, chain, k, c):
    meter = Meter(k_cd_m2=k, c_flat_lx=c)
    value, unit = ev, "EV"
    for following in [*chain, "EV"]:
        found = convert(written(value, unit), meter=meter)
        value, unit = found.value(UNITS[following]), following
    assert value == pytest.approx(ev, abs=1e-9)


# L = 2^(EV - 3), E = 2.5 x 2^EV at K 12.5 and C 250 (read in "Exposure value" copies), K 14, C 340
@pytest.mark.parametrize(
    ("ev", "cd_m2", "cd_m2_k14", "fl", "lx", "lx_c340", "fc"),
    [
        (-2, 0.03125, 0.035, 0.00912, 0.625, 0.85, 0.05806),
        (0, 0.125, 0.14, 0.03648, 2.5, 3.4, 0.23226),
        (5, 4, 4.48, 1.16745, 80, 108.8, 7.43224),
        (10, 128, 143.36, 37.359, 2560, 3481.6, 237.83),
        (12, 512, 573.44, 149.43, 10240, 13926.4, 951.33),
        (15, 4096, 4587.52, 1195.5, 81920, 111411.2, 7610.6),
        (20, 131072, 146800.64, 38255, 2621440, 3565158.4, 243540),
    ],
)
def test_light_table(ev, cd_m2, cd_m2_k14, fl, lx, lx_c340, fc):
    plain = convert(f"EV {ev}")
    assert plain.value("luminance") == pytest.approx(cd_m2)
    assert plain.value("luminance, fL") == pytest.approx(fl, rel=1e-4)
    assert plain.value("illuminance") == pytest.approx(lx)
    assert plain.value("illuminance, fc") == pytest.approx(fc, rel=1e-4)
    other = convert(f"EV {ev}", meter=Meter(k_cd_m2=14.0, c_flat_lx=340.0))
    assert other.value("luminance") == pytest.approx(cd_m2_k14)
    assert other.value("illuminance") == pytest.approx(lx_c340)
    assert other.constants == "K 14 cd/m2, C 340 lx"


def test_the_mode_says_which_c():
    assert "C 340 lx" in convert("EV 10", mode="incident-dome").constants
    assert "C 250 lx" in convert("EV 10", mode="incident-flat").constants
    dome = convert("650 lx", mode="incident-dome").value("EV at ISO 100")
    flat = convert("650 lx").value("EV at ISO 100")
    assert flat - dome == pytest.approx(math.log2(340 / 250))


# text, line, value: from ISO 2720:1974 via colour-hdri and computed
@pytest.mark.parametrize(
    ("text", "line", "value", "tolerance"),
    [
        ("f/16 1/128 s ISO 100", "EV at ISO 100", 15.0, 1e-9),
        ("f/8 1/256 s ISO 400", "EV at ISO 100", 12.0, 1e-9),
        ("EV 12 ISO 400", "EV at ISO 400", 12.0, 1e-9),
        ("EV 12 ISO 400", "EV at ISO 100", 10.0, 1e-9),
        ("41 cd/m2", "luminance, fL", 11.9664, 1e-4),
        ("12 fL", "luminance", 41.1151, 1e-4),
        ("f/8 ISO 100", "incident exposure", 160.0, 1e-9),
        ("f/5.6+3 ISO 100", "f-number", 6.2767, 5e-5),
        ("f/11", "exact f-number", 11.3137, 5e-5),
        ("f/11", "mark against exact", -0.0811, 5e-5),
        ("f/13", "mark against exact", 0.0675, 5e-5),
        ("1/60", "exact time", 1 / 64, 1e-12),
        ("1/60", "mark against exact", 0.0931, 5e-5),
        ("15 s", "mark against exact", -0.0931, 5e-5),
        ("180deg 24fps", "exact time", 1 / 48, 1e-12),
        ("172.8deg 24fps", "exact time", 1 / 50, 1e-12),
        ("144deg 24fps", "exact time", 1 / 60, 1e-12),
        # t = N²/2^EV by exact members, √8, √32 and √128 (ISO 2720:1974)
        ("EV 7", "time at f/2.8", 1 / 16, 1e-12),
        ("EV 7", "time at f/5.6", 1 / 4, 1e-12),
        ("EV 7", "time at f/11", 1.0, 1e-12),
        ("EV 7 ISO 400", "time at f/11", 1.0, 1e-12),
        ("ISO 100", "degrees", 21, 0),
        ("ISO 100", "S_v, Exif's zero", 5.0, 1e-9),
        ("ISO 100", "S_v, ASA's zero", 4.8939, 5e-5),
        ("Av 6", "f-number", 8.0, 1e-12),
        ("Tv 7", "time", 1 / 128, 1e-12),
        ("Sv 5", "ISO", 100.0, 1e-9),
        ("Bv 5", "EV at ISO 100", 10.0, 1e-9),
        ("Bv 0", "luminance", 3.4262590996, 1e-9),
        ("18 %", "density", 0.7447, 5e-5),
        ("16 %", "density", 0.7959, 5e-5),
        ("12.7 %", "density", 0.8962, 5e-5),
        ("90 %", "density", 0.0458, 5e-5),
        ("5 %", "density", 1.3010, 5e-5),
        ("3 %", "density", 1.5229, 5e-5),
        ("18 %", "stops under white", 2.473931, 5e-7),
        ("density 0.9", "factor", 7.9433, 5e-5),
        ("ND 3.0", "stops", 9.96578, 5e-6),
        ("factor 1024", "stops", 10.0, 1e-9),
        ("f/2.8 is T2.9515", "stops", 0.1520, 1e-4),
        ("GN 40 at 5 m", "f-number", 8.0, 1e-12),
        ("GN 40 at 5 m ISO 400", "f-number", 16.0, 1e-12),
        ("GN 40 m at 5 m ISO 400 power 1/4", "f-number", 8.0, 1e-12),
        ("GN 40 at 5 m", "guide number, ft", 131.23, 5e-3),
        ("GN 40 at 5 m", "effective candela-seconds", 4000.0, 1e-9),
    ],
)
def test_lines(text, line, value, tolerance):
    assert convert(text).value(line) == pytest.approx(value, abs=tolerance)


def test_apex_zeros_are_named():
    exif, asa = convert("Sv 5"), convert("Sv 5", zero="asa")
    assert "exif" in exif.constants
    assert "asa" in asa.constants
    # 0.106 EV between the two zeros (from memory, computed)
    gap = math.log2(asa.value("ISO") / exif.value("ISO"))
    assert gap == pytest.approx(0.10614, abs=5e-6)


@settings(max_examples=80, deadline=None)
@given(st.floats(0.0, 6.0))
def test_density_and_stops_return(density):
    stops = convert(f"density {density:.9f}").value("stops")
    back = convert(f"{stops:.12f} stops").value("density")
    assert back == pytest.approx(float(f"{density:.9f}"), abs=1e-9)


@settings(max_examples=80, deadline=None)
@given(st.floats(-4.0, 12.0), st.sampled_from("atbs"))
def test_apex_values_return(value, letter):
    text = f"{letter}v {value:.9f}"
    found = convert(text).lines[0].value
    rule = {
        "a": lambda n: 2.0 * math.log2(n),
        "t": lambda t: -math.log2(t),
        "s": lambda s: math.log2(s / 3.125),
        "b": lambda cd: math.log2(cd / 3.4262590996),
    }[letter]
    assert rule(found) == pytest.approx(value, abs=1e-8)


@pytest.mark.parametrize(
    ("text", "error", "words"),
    [
        ("8 furlongs", ExposureError, "unknown unit, 'furlongs'"),
        ("1000 asb", ExposureError, "unknown unit, 'asb'"),
        ("7", ExposureError, "has no unit"),
        ("", ExposureError, "nothing to convert"),
        ("dark", ExposureError, "nothing to convert"),
        ("f/0", ExposureError, "not above 0"),
        ("ND4", ExposureError, "may be a density or a factor"),
        ("0 %", ExposureError, "above 0 and at most 1"),
        ("140 %", ExposureError, "above 0 and at most 1"),
        ("Av 900", ExposureError, "beyond any APEX value"),
        ("f/8 1/60", SheetError, "no ISO value"),
        ("GN 40 at 5 m power 1/0", ExposureError, "above 0"),
        ("GN 0 at 5 m", ExposureError, "above 0"),
    ],
)
def test_wrong_input(text, error, words):
    with pytest.raises(error, match=words):
        convert(text)


def test_a_name_that_isnt_there():
    with pytest.raises(KeyError):
        convert("EV 10").value("weight")
