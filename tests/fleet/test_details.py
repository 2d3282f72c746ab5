"""asset.toml and lists of assets."""

from __future__ import annotations

import pytest

from profiler.errors import GreytareError
from profiler.fleet.details import Details, details_of, read_assets


def asset(folder, text):
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "asset.toml").write_text(f"[asset]\n{text}\n")


def test_the_nearest_file_wins_field_by_field(tmp_path):
    asset(tmp_path, 'operator = "N. N."\nplace = "room 2"\ntag = "not inherited"\n')
    asset(tmp_path / "a", 'place = "room 3"\ntemperature_c = 21')
    asset(tmp_path / "a" / "b", 'tag = "007"\ndate = 2026-02-03\nmeter_due = "2027-01-31"')
    assert details_of(tmp_path / "a" / "b", tmp_path) == Details(
        operator="N. N.",
        place="room 3",
        temperature_c=21.0,
        tag="007",
        date="2026-02-03",
        meter_due="2027-01-31",
    )
    assert details_of(tmp_path / "c", tmp_path).tag == ""


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("tag = 42", r"42 isn't text.*quotation marks, so that zeros are kept"),
        ('date = "1.3.2026"', "isn't a date"),
        ('operater = "x"', "Perhaps operator is meant"),
        ('state = "found"', "Use as-found, as-left"),
        ('light = "candle"', "Use daylight"),
        ('temperature_c = "warm"', "isn't a temperature"),
    ],
)
def test_refusals(tmp_path, text, says):
    asset(tmp_path, text)
    with pytest.raises(GreytareError, match=says):
        details_of(tmp_path, tmp_path)


def test_no_table(tmp_path):
    (tmp_path / "asset.toml").write_text('tag = "1"')
    with pytest.raises(GreytareError, match=r"no table \[asset\]"):
        details_of(tmp_path, tmp_path)


def test_assets_stay_text(tmp_path):
    path = tmp_path / "assets.csv"
    path.write_text("Tag;Serial;shelf\n0012;000100;a\n1e5;NA;b\n;;\n")
    assert read_assets(path) == {"000100": "0012", "NA": "1e5"}
    path.write_text("serial,name\n1,2\n")
    with pytest.raises(GreytareError, match="Name two of them serial and tag"):
        read_assets(path)
    path.write_text("serial,tag\n1,2\n1,3\n")
    with pytest.raises(GreytareError, match="serial 1 has the tags 2 and 3"):
        read_assets(path)
