"""The index of a folder of profiles: renewed by content, appended to, losable."""

from __future__ import annotations

import os

import fleetlab
import numpy as np
import pytest
from scipy.stats import false_discovery_control

from profiler.fleet import index, p_values
from profiler.fleet.index import FOLDER, find_profiles, indexed_rows


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setattr(index, "_WORTH", 1)
    for k in range(4):
        made = fleetlab.profile(f"{k:06d}", 0.1 * k)
        fleetlab.keep(tmp_path, f"s{k % 2}/{k}", made, date="2026-01-05", tag='Ä,"1"')
    return tmp_path


def parts(folder):
    return sorted((folder / FOLDER).glob("*.parquet"))


def test_rows_are_those_of_the_profiles(folder, monkeypatch):
    rows, wrong = fleetlab.read_profiles(find_profiles(folder), below=folder)
    assert wrong == {}
    assert indexed_rows(folder) == (rows, {})
    monkeypatch.setattr(index, "load_profile", None)  # with the index nobody opens them
    assert indexed_rows(folder) == (rows, {})
    for path in find_profiles(folder):
        os.utime(path, (1, 1))  # copied: another time, the same content
    assert indexed_rows(folder) == (rows, {})


def test_what_is_new_is_added_and_what_is_gone_forgotten(folder):
    indexed_rows(folder)
    first = parts(folder)
    before = first[0].read_bytes()
    fleetlab.keep(folder, "s0/9", fleetlab.profile("000009", 0.9), date="2026-01-05")
    fleetlab.keep(folder, "s1/1", fleetlab.profile("000001", -0.5), date="2026-01-05")
    (folder / "s0" / "2.profile.json").unlink()
    (folder / "s1" / "3.profile.json").write_text("{")
    rows, wrong = indexed_rows(folder)
    assert {row.camera_serial: row.offset_ev for row in rows} == {
        "000000": 0.0,
        "000001": -0.5,
        "000009": 0.9,
    }
    assert [path.name for path in wrong] == ["3.profile.json"]
    assert len(parts(folder)) == 2
    assert first[0].read_bytes() == before


def test_a_damaged_or_older_index_is_made_again(folder, monkeypatch):
    rows, _ = indexed_rows(folder)
    parts(folder)[0].write_bytes(b"PAR1 not at all")
    assert indexed_rows(folder)[0] == rows
    monkeypatch.setattr(index, "_MARK", b"another greytare")
    assert indexed_rows(folder)[0] == rows
    assert indexed_rows(folder)[0] == rows


def test_false_discovery_is_that_of_scipy():
    rng = np.random.default_rng(1)
    for n in (1, 2, 50):
        p = rng.uniform(size=n) ** 3
        assert p_values.false_discovery(p) == pytest.approx(false_discovery_control(p))
    assert p_values.false_discovery(np.empty(0)).size == 0


def test_a_serial_without_its_zeros_is_offered_not_swallowed(folder):
    from profiler.fleet.table import load_shelf

    shelf = load_shelf(folder, {"1": "R1", "77": "R2", "000002": "R3"})
    assert shelf.lost_zeros({"1": "R1", "77": "R2", "000002": "R3"}) == {"1": "000001"}
    tags = {row.camera_serial: row.asset_tag for row in shelf.rows}
    assert (tags["000001"], tags["000002"]) == ('Ä,"1"', "R3")
