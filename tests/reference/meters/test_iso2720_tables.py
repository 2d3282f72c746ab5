"""Meter equations against the EV tables that follow from ISO 2720:1974.

L = 2^(EV-3) and E = 2.5 x 2^EV are printed in encyclopaedia copies of "Exposure value"; the other
columns are computed from the equations restated in the colour-hdri 0.2.6 docs.
"""

from __future__ import annotations

import math

import pytest

from profiler.exposure.light import (
    ev100_from_illuminance,
    ev100_from_luminance,
    ev_at_iso,
    ev_from_settings,
    illuminance_from_ev100,
    luminance_from_ev100,
    luminance_of_card,
    reflectance_equivalence,
    spot_minus_incident_ev,
    time_from_ev,
)
from profiler.exposure.lighting import (
    candela_seconds_from_guide,
    flash_exposure_lx_s,
    guide_number_ft,
)
from profiler.exposure.units import cd_m2_from_fl, fc_from_lx, fl_from_cd_m2

# EV, L at K 12.5, L at K 14, L at K 12.5 in fL, E at C 250, E at C 340, E at C 250 in fc.
EV_TABLE = """
-2 0.03125 0.035 0.00912 0.625 0.85 0.05806
-1 0.0625 0.07 0.01824 1.25 1.7 0.11613
0 0.125 0.14 0.03648 2.5 3.4 0.23226
1 0.25 0.28 0.07297 5 6.8 0.46452
2 0.5 0.56 0.14593 10 13.6 0.92903
3 1 1.12 0.29186 20 27.2 1.85806
4 2 2.24 0.58373 40 54.4 3.71612
5 4 4.48 1.16745 80 108.8 7.43224
6 8 8.96 2.33491 160 217.6 14.8645
7 16 17.92 4.66982 320 435.2 29.729
8 32 35.84 9.33963 640 870.4 59.458
9 64 71.68 18.679 1280 1740.8 118.92
10 128 143.36 37.359 2560 3481.6 237.83
11 256 286.72 74.717 5120 6963.2 475.66
12 512 573.44 149.43 10240 13926 951.33
13 1024 1146.9 298.87 20480 27853 1902.7
14 2048 2293.8 597.74 40960 55706 3805.3
15 4096 4587.5 1195.5 81920 111411 7610.6
16 8192 9175.0 2390.9 163840 222822 15221
17 16384 18350 4781.9 327680 445645 30442
18 32768 36700 9563.8 655360 891290 60885
19 65536 73400 19128 1310720 1782579 121770
20 131072 146801 38255 2621440 3565158 243540
"""
ROWS = [row.split() for row in EV_TABLE.split("\n") if row]


def as_printed(text: str) -> object:
    """The printed number with half a unit of its last digit, ties rounded either way."""
    decimals = len(text.partition(".")[2])
    return pytest.approx(float(text), abs=0.501 * 10.0**-decimals)


@pytest.mark.parametrize("row", ROWS, ids=[f"EV {row[0]}" for row in ROWS])
def test_ev_table(row: list[str]) -> None:
    ev = float(row[0])
    assert luminance_from_ev100(ev) == float(row[1])
    assert luminance_from_ev100(ev, 14.0) == as_printed(row[2])
    assert fl_from_cd_m2(luminance_from_ev100(ev)) == as_printed(row[3])
    assert illuminance_from_ev100(ev) == float(row[4])
    assert illuminance_from_ev100(ev, 340.0) == as_printed(row[5])
    assert fc_from_lx(illuminance_from_ev100(ev)) == as_printed(row[6])


@pytest.mark.parametrize("row", ROWS, ids=[f"EV {row[0]}" for row in ROWS])
def test_ev_table_backwards(row: list[str]) -> None:
    ev = float(row[0])
    assert ev100_from_luminance(float(row[1])) == pytest.approx(ev, abs=1e-12)
    assert ev100_from_luminance(float(row[2]), 14.0) == pytest.approx(ev, abs=1e-4)
    assert ev100_from_illuminance(float(row[4])) == pytest.approx(ev, abs=1e-12)
    assert ev100_from_illuminance(float(row[5]), 340.0) == pytest.approx(ev, abs=1e-4)


# Computed on R = pi K/C. 15.7 % and 17.6 % are also printed in an encyclopaedia "Light meter" copy.
@pytest.mark.parametrize(
    ("k", "c", "reflectance", "gap_ev"),
    [
        (12.5, 250.0, 0.15708, 0.1965),
        (14.0, 250.0, 0.17593, 0.0330),
        (12.5, 320.0, 0.12272, 0.5526),
        (12.5, 330.0, 0.11900, 0.5970),
        (12.5, 340.0, 0.11550, 0.6401),
        (14.0, 340.0, 0.12936, 0.4766),
    ],
)
def test_spot_against_incident(k: float, c: float, reflectance: float, gap_ev: float) -> None:
    assert reflectance_equivalence(k, c) == pytest.approx(reflectance, abs=5e-6)
    assert spot_minus_incident_ev(k, c) == pytest.approx(gap_ev, abs=5e-5)
    by_readings = ev100_from_luminance(luminance_of_card(1000.0), k) - ev100_from_illuminance(
        1000.0, c
    )
    assert by_readings == pytest.approx(gap_ev, abs=5e-5)


def test_the_same_with_more_digits() -> None:
    assert reflectance_equivalence(12.5, 250.0) == pytest.approx(0.15707963267948966, abs=1e-8)
    assert reflectance_equivalence(14.0, 250.0) == pytest.approx(0.1759291886010284, abs=1e-8)
    assert spot_minus_incident_ev(12.5, 250.0) == pytest.approx(0.19650077708263128, abs=1e-6)
    k_gap = ev100_from_luminance(100.0, 12.5) - ev100_from_luminance(100.0, 14.0)
    assert k_gap == pytest.approx(0.16349873228287956, abs=1e-6)
    c_gap = ev100_from_illuminance(100.0, 250.0) - ev100_from_illuminance(100.0, 340.0)
    assert c_gap == pytest.approx(0.44360665147561484, abs=1e-6)
    dome_gap = ev100_from_illuminance(100.0, 320.0) - ev100_from_illuminance(100.0, 340.0)
    assert dome_gap == pytest.approx(0.087, abs=5e-4)


def test_a_card_in_1000_lx() -> None:
    card_cd_m2 = luminance_of_card(1000.0)
    assert card_cd_m2 == pytest.approx(57.2958, abs=5e-5)
    assert fl_from_cd_m2(card_cd_m2) == pytest.approx(16.7225, abs=5e-5)
    assert ev100_from_luminance(card_cd_m2) == pytest.approx(8.84036, abs=5e-6)
    assert ev100_from_illuminance(1000.0) == pytest.approx(8.64386, abs=5e-6)


# Run in colour-hdri 0.2.6: f-number, time, ISO, EV100, cd/m2 (K 12.5), lx (C 250).
@pytest.mark.parametrize(
    ("f_number", "time_s", "iso", "ev100", "cd_m2", "lx"),
    [
        (16.0, 1 / 125, 100.0, 14.965784284662087, 4000.0, 80000.0),
        (8.0, 1 / 250, 400.0, 11.96578428, 500.0, 10000.0),
    ],
)
def test_settings(
    f_number: float, time_s: float, iso: float, ev100: float, cd_m2: float, lx: float
) -> None:
    found = ev_from_settings(f_number, time_s) - math.log2(iso / 100)
    assert found == pytest.approx(ev100, abs=1e-8)
    assert luminance_from_ev100(found) == pytest.approx(cd_m2, rel=1e-12)
    assert illuminance_from_ev100(found) == pytest.approx(lx, rel=1e-12)
    ev = ev_at_iso(found, iso)
    assert time_from_ev(ev, f_number) == pytest.approx(time_s, rel=1e-12)


def test_flash() -> None:
    """H = C N^2/S from memory; GN = sqrt(B S/C) computed."""
    assert flash_exposure_lx_s(8.0, 100.0, 250.0) == pytest.approx(160.0, abs=1e-9)
    assert candela_seconds_from_guide(40.0) == 4000.0
    assert guide_number_ft(40.0) == pytest.approx(131.23, abs=5e-3)


def test_the_traditional_flash_formula_is_another_one() -> None:
    """GN_ft = sqrt(k BCPS S) has k 0.05 to 0.063 (from memory); C = 250 lx gives 0.0431."""
    k = guide_number_ft(40.0) ** 2 / (candela_seconds_from_guide(40.0) * 100.0)
    assert k == pytest.approx(0.0431, abs=5e-5)
    assert math.log2(0.05 / k) == pytest.approx(0.2, abs=0.02)
    assert math.log2(0.063 / k) == pytest.approx(0.55, abs=0.005)


def test_constants_in_older_units() -> None:
    """K = 3.64 fL with C = 25.6 fc (textbook extract, tanguayphotomag.biz), R = K/C = 0.14."""
    assert cd_m2_from_fl(3.64) == pytest.approx(12.47, abs=5e-3)
    c_lx = 25.6 / fc_from_lx(1.0)
    assert c_lx == pytest.approx(275.6, abs=0.05)
    assert reflectance_equivalence(cd_m2_from_fl(3.64), c_lx) == pytest.approx(0.142, abs=5e-4)
