"""What the pages of a fleet read: good profiles, changed ones, odd ones."""

from __future__ import annotations

import json

import fleetlab
import pytest
from starlette.datastructures import QueryParams

from profiler.errors import GreytareError
from profiler.fleet.batch.store import about_path
from profiler.fleet.tolerances import read_tolerances
from profiler.web.fleet import differences, drifting, fleet_table, query
from profiler.web.session import Session


def ask(session, **values):
    return query.ask(session, QueryParams(values))


def test_the_rows_are_those_of_the_library(session, rental):
    rows, wrong = fleetlab.load_rows(rental)
    found = ask(session)
    assert list(found.rows) == rows
    assert found.profiles.wrong == wrong == {}
    assert found.tolerances == read_tolerances(rental / "limits.toml")


def test_changed_files_are_read_again(tmp_path):
    start = tmp_path / "rental"
    path = fleetlab.keep(start, "a", fleetlab.profile("000001", 0.1), date="2026-01-05", tag="R1")
    session = Session(start)
    assert [row.offset_ev for row in ask(session).rows] == [0.1]
    before = ask(session).profiles
    assert ask(session).profiles is before
    fleetlab.keep(start, "a", fleetlab.profile("000001", 0.25), date="2026-01-05", tag="R1")
    fleetlab.keep(start, "b", fleetlab.profile("000002", 0.3))
    assert {row.offset_ev for row in ask(session).rows} == {0.25, 0.3}
    about = json.loads(about_path(path).read_text())
    about["details"]["tag"] = "R100"
    about_path(path).write_text(json.dumps(about))
    (start / "assets.csv").write_text("serial,tag\n000002,R200\n")
    assert {row.asset_tag for row in ask(session).rows} == {"R100", "R200"}
    path.unlink()
    assert [row.offset_ev for row in ask(session).rows] == [0.3]
    (start / "b.profile.json").write_text("{")
    with pytest.raises(GreytareError, match=r"b\.profile\.json"):
        ask(session)


def test_one_bad_profile_is_listed_and_the_rest_shown(tmp_path):
    fleetlab.keep(tmp_path, "good", fleetlab.profile("000001", 0.1))
    (tmp_path / "bad.profile.json").write_text("{}")
    reply = fleet_table.answer(ask(Session(tmp_path)))
    assert reply.headline == "1 result of 1 body."
    assert "1 profile can't be read" in reply.html.replace("&#39;", "'")
    assert "bad.profile.json" in reply.html


def test_an_empty_folder_says_what_to_do(tmp_path):
    with pytest.raises(GreytareError, match=r"there is no profile in it yet.*greytare fleet run"):
        ask(Session(tmp_path))


def test_broken_tolerances_are_named(tmp_path):
    fleetlab.keep(tmp_path, "a", fleetlab.profile("000001", 0.1))
    (tmp_path / "limits.toml").write_text("[tolerances]\noffset_ev = {limit = -1}\n")
    with pytest.raises(GreytareError, match=r"limits.toml.*limit is not a positive number"):
        ask(Session(tmp_path))
    assert ask(Session(tmp_path), tolerances="none").tolerances is None


def test_an_empty_tag_in_the_list_takes_none_away(tmp_path):
    fleetlab.keep(tmp_path, "a", fleetlab.profile("000001", 0.1), tag="R1")
    (tmp_path / "assets.csv").write_text("serial,tag\n000001,\n")
    assert [row.asset_tag for row in ask(Session(tmp_path)).rows] == ["R1"]


def test_odd_files_are_listed_and_the_rest_shown(tmp_path):
    fleetlab.keep(tmp_path, "good", fleetlab.profile("000001", 0.1), date="2026-01-05")
    text = (tmp_path / "good.profile.json").read_text()
    number = text.index('"offset_ev"')
    start = text.index('"value":', number)
    broken = text[: start + 8] + " 7.5" + text[text.index(",", start) :]
    (tmp_path / "outside.profile.json").write_text(broken)
    (tmp_path / "nested.profile.json").write_text("[" * 5000)
    (tmp_path / "circle.profile.json").symlink_to(tmp_path / "circle.profile.json")
    fleetlab.keep(tmp_path, "surrogate", fleetlab.profile("000002", 0.1), tag="\ud800")
    fleetlab.keep(tmp_path, "undated", fleetlab.profile("000003", 0.1), date="soon")
    (tmp_path / "nested.toml").write_text("x = " + "[" * 5000)
    (tmp_path / "circle.toml").symlink_to(tmp_path / "circle.toml")
    found = ask(Session(tmp_path))
    assert set(found.profiles.wrong) == {
        f"{name}.profile.json" for name in ("outside", "nested", "surrogate", "undated")
    }
    for tool in (fleet_table, differences, drifting):
        tool.answer(found).html.encode()
    assert [row.camera_serial for row in found.rows] == ["000001"]


def test_names_that_are_no_text_are_passed_over(tmp_path):
    fleetlab.keep(tmp_path, "good", fleetlab.profile("000001", 0.1))
    odd = bytes(tmp_path) + b"/caf\xe9.profile.json"
    try:
        with open(odd, "wb") as file:
            file.write((tmp_path / "good.profile.json").read_bytes())
    except OSError:
        pytest.skip("this file system takes no such name")
    assert len(ask(Session(tmp_path)).rows) == 1


def test_dates_and_intervals_without_end(tmp_path):
    fleetlab.keep(tmp_path, "a", fleetlab.profile("000001", 0.1), date="9999-12-31")
    (tmp_path / "limits.toml").write_text(
        "interval_days = 36525\n[tolerances]\noffset_ev = {limit = 1}\n"
    )
    assert "9999-12-31" in drifting.answer(ask(Session(tmp_path))).html
    (tmp_path / "limits.toml").write_text(
        "interval_days = 99999999\n[tolerances]\noffset_ev = {limit = 1}\n"
    )
    with pytest.raises(GreytareError, match="36525 at most"):
        ask(Session(tmp_path))


def test_a_list_of_tags_that_is_mended_brings_the_news(tmp_path):
    fleetlab.keep(tmp_path, "a", fleetlab.profile("000001", 0.1))
    session = Session(tmp_path)
    ask(session)
    (tmp_path / "assets.csv").write_text("nothing\n")
    fleetlab.keep(tmp_path, "b", fleetlab.profile("000002", 0.2))
    with pytest.raises(GreytareError, match="its columns are nothing"):
        ask(session)
    (tmp_path / "assets.csv").unlink()
    assert len(ask(session).rows) == 2
