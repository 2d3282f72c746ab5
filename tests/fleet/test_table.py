"""The table: from profiles, to files and back, text kept as text."""

from __future__ import annotations

import json
import math
from dataclasses import asdict, replace

import fleetlab
import pandas as pd
import pytest

from profiler.errors import GreytareError
from profiler.files.profile import load_profile
from profiler.fleet.index import find_profiles
from profiler.fleet.read_rows import profile_rows
from profiler.fleet.rows import COLUMNS, QUANTITIES
from profiler.fleet.rowsfile import rows_csv
from profiler.fleet.table import frame, rows_of, save_table

SERIALS = ("000042", "0", "NA", "1e5", "nan", "", '12 \u00e9, "x"')
"""Texts that software likes to take for numbers, or for nothing."""


@pytest.fixture
def folder(tmp_path):
    for k, serial in enumerate(SERIALS):
        details = {"tag": f"{k:04d}", "date": "2026-03-01", "state": "as-found" if k else ""}
        fleetlab.keep(tmp_path / "p", f"b{k}", fleetlab.profile(serial, 0.1 * k), **details)
    return tmp_path / "p"


@pytest.fixture
def rows(folder):
    rows, wrong = fleetlab.load_rows(folder)
    assert not wrong
    return rows


def test_serials_and_tags_as_they_were(rows):
    assert {row.camera_serial for row in rows} == set(SERIALS)
    assert {row.asset_tag for row in rows} == {f"{k:04d}" for k in range(len(SERIALS))}
    assert {row.meter_serial for row in rows} == {"000731"}


@pytest.mark.parametrize("ending", ["csv", "parquet", "sqlite"])
def test_there_and_back(rows, tmp_path, ending):
    path = tmp_path / f"table.{ending}"
    assert save_table(rows, path) is None
    again, _ = fleetlab.load_rows(path)
    assert again == rows
    assert rows_csv(again) == rows_csv(rows)
    with pytest.raises(GreytareError, match="a file of this name exists"):
        save_table(rows, path)
    assert save_table(rows[:2], path, replace=True) is not None
    assert len(fleetlab.load_rows(path)[0]) == 2


def test_there_and_back_by_sqlalchemy(rows, tmp_path):
    url = f"sqlite:///{tmp_path}/base.db"
    save_table(rows, url)
    assert fleetlab.load_rows(url)[0] == rows
    with pytest.raises(GreytareError, match="it holds a table 'results' already"):
        save_table(rows, url)
    save_table(rows[:1], url, replace=True)
    assert len(fleetlab.load_rows(url)[0]) == 1


def test_pandas_keeps_the_kinds(rows, tmp_path):
    made = frame(rows)
    assert list(made.columns) == list(COLUMNS)
    assert made["camera_serial"].tolist() == [row.camera_serial for row in rows]
    assert pd.api.types.is_string_dtype(made["camera_serial"])
    assert made["iso"].dtype == "int64"
    assert made["lower_bound"].dtype == bool
    assert rows_of(made) == rows
    made.to_csv(tmp_path / "by_pandas.csv", index=False)
    assert fleetlab.load_rows(tmp_path / "by_pandas.csv")[0] == rows


def test_an_empty_cell_is_not_measured(rows, tmp_path):
    bare = [replace(row, footroom_snr10_ev=None, effective_dof=None) for row in rows]
    for ending in ("csv", "parquet", "sqlite"):
        save_table(bare, tmp_path / f"t.{ending}")
        assert fleetlab.load_rows(tmp_path / f"t.{ending}")[0] == bare
    value = bare[0].value("offset_ev")
    assert value is not None
    assert value.dof == math.inf
    assert bare[0].value("footroom_snr10_ev") is None


def test_the_text_depends_on_the_rows_only(rows):
    assert rows_csv(rows) == rows_csv(list(reversed(rows)))
    assert "created" not in rows_csv(rows)


def test_rows_hold_what_the_profile_says(small_fleet, tmp_path):
    path = fleetlab.keep(tmp_path, "a/b", fleetlab.template(), tag="9", card="c1", session="s")
    profile, (row,) = load_profile(path), profile_rows(path, below=tmp_path)
    result = profile.results[0]
    assert row.series == "a/b"
    assert (row.camera_model, row.lens_model) == (profile.camera.model, profile.lens.model)
    assert (row.iso, row.mode, row.light) == (400, "spot", "daylight")
    assert (row.card, row.session) == ("c1", "s")
    assert row.date == ""  # no frame tells when it was shot, and fitting it starts no clock
    assert row.meter_constant == 12.5
    assert row.frames == sum(frame.used for frame in result.frames)
    assert row.flags == ";".join(sorted({flag.name for flag in result.flags}))
    share = {r.source: r.contribution_ev for r in result.budget}
    assert row.shared_repeatability_ev == share["meter repeatability"]
    assert row.shared_resolution_ev == share["meter resolution"]
    floor = result.footroom_ev
    estimates = [result.offset_ev, result.clip_headroom_ev, result.linear_headroom_ev]
    estimates += [floor.snr1, floor.snr10, floor.snr40]
    for quantity, estimate in zip(QUANTITIES, estimates, strict=True):
        value = row.value(quantity)
        assert (value.value, value.u, value.low, value.high) == (
            estimate.value,
            estimate.u,
            estimate.low,
            estimate.high,
        )
        if quantity != "footroom_snr1_ev":
            assert value.lower_bound is (estimate.lower_bound and "footroom" not in quantity)


def test_a_bad_profile_is_named_with_its_field(folder):
    paths = find_profiles(folder)
    data = json.loads(paths[0].read_text())
    data["results"][0]["iso"] = "400"
    paths[0].write_text(json.dumps(data))
    paths[1].write_text("{")
    data["results"][0]["iso"] = 400
    data["version"] = 99
    paths[2].write_text(json.dumps(data))
    rows, wrong = fleetlab.read_profiles(paths, below=folder)
    assert len(rows) == len(SERIALS) - 3
    assert "results[0].iso" in wrong[paths[0]].what
    assert "isn't JSON" in wrong[paths[1]].what
    assert "version 99" in wrong[paths[2]].what


def test_assets_beat_what_lies_beside_the_profile(folder, tmp_path):
    rows, _ = fleetlab.load_rows(folder, {"000042": "T-1"})
    assert {r.asset_tag for r in rows if r.camera_serial == "000042"} == {"T-1"}
    save_table(rows, tmp_path / "t.csv")
    again, _ = fleetlab.load_rows(tmp_path / "t.csv", {"0": "T-2"})
    assert {r.asset_tag for r in again if r.camera_serial in ("0", "000042")} == {"T-1", "T-2"}


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("t.csv", "a,b\n1,2\n", "lacks the column 'asset_tag'"),
        ("t.parquet", "no", "isn't a Parquet file"),
        ("t.sqlite", "", "holds no table 'results'"),
        ("t.xls", "", "can't be read from .xls"),
    ],
)
def test_no_table(tmp_path, name, content, says):
    (tmp_path / name).write_text(content)
    with pytest.raises(GreytareError, match=says):
        fleetlab.load_rows(tmp_path / name)


def test_a_damaged_cell_is_named(rows, tmp_path):
    text = rows_csv(rows).replace(",spot,daylight,400,", ",spot,daylight,4oo,", 1)
    (tmp_path / "t.csv").write_text(text)
    with pytest.raises(GreytareError, match=r"'4oo' isn't a valid int") as caught:
        fleetlab.load_rows(tmp_path / "t.csv")
    assert "row 2, iso" in caught.value.where


def test_elsewhere(tmp_path, rows):
    with pytest.raises(GreytareError, match="no such file or folder"):
        fleetlab.load_rows(tmp_path / "absent")
    with pytest.raises(GreytareError, match=r"End its name in \.csv, \.parquet or \.sqlite"):
        save_table(rows, tmp_path / "t.xls")
    with pytest.raises(GreytareError, match="address can't be used"):
        save_table(rows, "nosuch://x")
    assert asdict(rows[0])["iso"] == 400
