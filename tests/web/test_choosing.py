"""Which profile answers: named by what it holds; of several bodies, none is chosen for anybody."""

from __future__ import annotations

import html
import os
from dataclasses import replace
from pathlib import Path

import httpx
import pytest

from profiler.files.profile import load_profile, save_profile
from profiler.records import Flag
from profiler.web import profiles
from profiler.web.session import Session

FIXTURE = Path(__file__).resolve().parents[2] / "fixtures" / "profile-v2.profile.json"


@pytest.fixture
def data():
    return load_profile(FIXTURE)


def saved(folder, **named):
    """A session on profiles, each a minute older than the one before it."""
    for i, (name, each) in enumerate(named.items()):
        path = folder / f"{name}.profile.json"
        save_profile(each, path)
        os.utime(path, (1.7e9 - 60 * i,) * 2)
    return Session(folder)


def doubted(data):
    flags = (Flag(name="unusual-offset", size=2.72),)
    return replace(data, results=tuple(replace(r, flags=flags) for r in data.results))


def test_the_newest_without_a_doubt_answers_first(tmp_path, data):
    choice = profiles.choose(saved(tmp_path, bad13=doubted(data), good=data, old=data), "")
    assert choice.chosen == "good.profile.json"
    assert [each.doubted for each in choice.known] == [True, False, False]
    assert choice.known[1].name == (
        "good: Halden H2, serial 0004217; Halden 50mm f/1.4; Sprig Lm-3; daylight; 2026-01-05"
    )
    assert choice.known[0].name.startswith("bad13 (in doubt): Halden H2")
    assert choice.asks is None


def test_where_all_are_in_doubt_the_newest_answers(tmp_path, data):
    session = saved(tmp_path, new=doubted(data), old=doubted(data))
    assert profiles.choose(session, "").chosen == "new.profile.json"


def test_of_several_bodies_none_is_chosen(tmp_path, data):
    other = replace(data, camera=replace(data.camera, serial="9"))
    session = saved(tmp_path, one=data, two=other)
    choice = profiles.choose(session, "")
    assert choice.chosen == ""
    assert choice.asks is not None
    assert profiles.profile_field(choice).choices[0] == ("", "choose")
    assert profiles.choose(session, "two.profile.json").chosen == "two.profile.json"


def test_one_that_cannot_be_read_may_be_another_body(tmp_path, data):
    (tmp_path / "broken.profile.json").write_text("{}")
    choice = profiles.choose(saved(tmp_path, one=data), "")
    assert choice.chosen == ""
    assert "broken: can't be read" in [each.name for each in choice.known]


def test_the_series_page_tells_where_the_sheet_contradicts_the_files(
    tmp_path, make_shoot, open_page
):
    made = make_shoot(tmp_path / "series", labels=(100,), frames_per_label=3)
    said = "Row 2, aperture: f/56 stands in the sheet, f/5.6 in the files (-6.64 EV). The sheet's"
    edit = {"row": None, "file": "*", "values": {"reading": "EV 10.0", "mode": "spot"}}
    with (
        open_page(tmp_path) as served,
        httpx.Client(base_url=served.base, headers={"Origin": served.base}) as user,
    ):
        user.get("/", params={"token": served.token})
        user.get("/series/tags", params={"folder": "series"})
        body = {"folder": "series", "version": "", "lines": [edit]}
        clean = user.post("/series/sheet", json=body).json()
        assert clean["against"] == []
        (made.folder / "sheet.csv").write_text("file,reading,mode,aperture\n*,EV 10.0,spot,f/56\n")
        text = html.unescape(user.get("/series", params={"folder": "series"}).text)
        assert said in text
