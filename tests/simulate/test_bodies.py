"""Bodies read from TOML, with errors that name file, field and cure."""

from __future__ import annotations

from pathlib import Path

import pytest

from profiler.errors import GreytareError
from profiler.simulate import load_body, shipped_bodies
from profiler.simulate.sensor import parse_body

GOOD = """
make = "Halden"
model = "Halden H2"
serial = "0004217"
lens = "Halden 50mm f/1.4"
[sensor]
cfa = "RGGB"
bits = 14
width = 600
height = 400
full_well_e = 60000
electrons_per_lx_s = 114000
sensitivity = { R = 0.6, G1 = 1, G2 = 1.0, B = 0.7 }
[[label]]
iso = 400
gain_e_per_dn = 0.98
black_dn = 512
read_noise_e = 3.3
clip_dn = { R = 16000, G1 = 15800, G2 = 15800, B = 16000 }
"""


def test_shipped_bodies_load_and_keep_leading_zeros() -> None:
    bodies = {name: load_body(name) for name in shipped_bodies()}
    assert {(b.cfa, b.bits) for b in bodies.values()} >= {
        ("RGGB", 14),
        ("XTRANS", 14),
        ("MONO", 12),
    }
    assert load_body("halden-h2").serial == "0004217"
    for name, body in bodies.items():
        assert [label.iso for label in body.labels] == [100, 200, 400, 800]
        assert load_body(shipped_bodies()[name]) == body


def test_one_number_or_one_for_each_channel() -> None:
    label = parse_body(GOOD).label(400)
    assert label.black_dn == {"R": 512.0, "G1": 512.0, "G2": 512.0, "B": 512.0}
    assert label.clip_dn["G1"] == 15800.0
    assert parse_body(GOOD).channels == ("R", "G1", "G2", "B")
    assert parse_body(GOOD).pattern == (("R", "G1"), ("G2", "B"))


BAD = [
    ('serial = "0004217"', "serial = 4217", r"serial is 4217.*text in quotes"),
    ('serial = "0004217"', "", r"serial is missing"),
    (
        'cfa = "RGGB"',
        'cfa = "RGBG"',
        r"sensor\.cfa is 'RGBG'.*RGGB, BGGR, GRBG, GBRG, XTRANS, MONO",
    ),
    ("bits = 14", "bits = 13", r"sensor\.bits is 13.*12 or 14"),
    ("width = 600", "width = 600.5", r"sensor\.width is 600\.5.*whole number"),
    ("width = 600", "width = 0", r"sensor\.width is 0.*1 or more"),
    ("width = 600", "width = 600\nmasked_left = 3", r"sensor\.masked_left is odd"),
    ("width = 600", "width = 600\nmasked_tag = 1", r"sensor\.masked_tag is 1.*true or false"),
    ("full_well_e = 60000", "full_well_e = -1", r"sensor\.full_well_e is -1.*above 0"),
    ("G2 = 1.0, ", "", r"sensor\.sensitivity\.G2 is missing"),
    ("G2 = 1.0, ", "G2 = 1.0, G = 1.0, ", r"sensor\.sensitivity\.G is not a field"),
    ("iso = 400", 'iso = "400"', r"label 1: iso is '400'.*whole number"),
    ("read_noise_e = 3.3", "read_noise = 3.3", r"label 1: read_noise_e is missing"),
    ("black_dn = 512", "black_dn = true", r"label 1: black_dn is True.*a number"),
    ("R = 16000, G1 = 15800", "R = 16384, G1 = 15800", r"clip_dn\.R is 16384.*16383 at most"),
    ("R = 16000, G1 = 15800", "R = 16000.5, G1 = 15800", r"clip_dn is 16000\.5.*whole code"),
    ("R = 16000, G1 = 15800", "R = 500, G1 = 15800", r"clip_dn is 500.*above black_dn"),
    ("[sensor]", "[sensor", r"it isn't valid TOML"),
]


@pytest.mark.parametrize(("old", "new", "message"), BAD)
def test_bad_field_is_named(old: str, new: str, message: str) -> None:
    assert old in GOOD
    with pytest.raises(GreytareError, match=message) as caught:
        parse_body(GOOD.replace(old, new, 1), where="my.toml")
    assert caught.value.where == "my.toml"


def test_a_label_given_twice_is_refused() -> None:
    twice = GOOD + GOOD[GOOD.index("[[label]]") :]
    with pytest.raises(GreytareError, match="label names an iso twice"):
        parse_body(twice)


def test_a_missing_file_names_the_shipped_bodies(tmp_path: Path) -> None:
    with pytest.raises(GreytareError, match=r"can't be read.*halden-h2, merle-m1, orrin-x6"):
        load_body(tmp_path / "none.toml")


def test_an_unknown_label_names_those_that_exist() -> None:
    with pytest.raises(GreytareError, match=r"no ISO label 160.*100, 200, 400, 800"):
        load_body("halden-h2").label(160)
