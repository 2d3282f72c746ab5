"""The saved profile: refused with the JSON path of what is wrong; every version still reads."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from profiler import flags
from profiler.errors import ProfileError
from profiler.files.profile import load_profile, parse_profile, profile_json, profile_schema
from profiler.results import VERSION
from profiler.show.calibration.profile import describe
from profiler.show.report.document import report_page

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"


def kept(version: int) -> Path:
    return FIXTURES / f"profile-v{version}.profile.json"


@pytest.mark.parametrize("version", range(1, VERSION + 1))
def test_every_version_reads(version):
    profile = load_profile(kept(version))
    assert profile.version == VERSION
    assert profile.camera.serial.startswith("0")


def test_current_version_writes_back_the_same():
    text = kept(VERSION).read_text()
    assert profile_json(parse_profile(text, "kept")) == text


def test_the_time_of_shooting_is_of_the_frames_or_unknown():
    assert load_profile(kept(1)).provenance.taken == ""
    assert load_profile(kept(2)).provenance.taken == "2026-01-05T10:00:00"


def change(path: list, value) -> str:
    data = json.loads(kept(VERSION).read_text())
    place = data
    for part in path[:-1]:
        place = place[part]
    if value is KeyError:
        del place[path[-1]]
    else:
        place[path[-1]] = value
    return json.dumps(data)


WRONG = [  # path, value, what the message names
    (["results", 0, "iso"], 6.7, r"results\[0\]\.iso"),
    (["results", 0, "iso"], "400", r"results\[0\]\.iso"),
    (["results", 0, "offset_ev", "u"], "0.1", r"results\[0\]\.offset_ev\.u"),
    (["results", 0, "offset_ev"], KeyError, r"results\[0\]\.offset_ev"),
    (["results", 0, "surprise"], 1, r"results\[0\]\.surprise"),
    (["camera", "serial"], 4217, r"camera\.serial"),
    (["version"], 99, "version 99"),
    (["version"], "1", "isn't a version number"),
    (["version"], KeyError, "isn't a version number"),
    (["version"], 1.0, "isn't a version number"),
    (["format"], "other", "isn't a profile"),
    (["results", 0, "offset_ev", "u"], True, r"offset_ev\.u: expected a number, got true or false"),
    (["results", 0, "offset_ev", "low"], 90.0, r"results\[0\]\.offset_ev: 90.0 .* doesn't hold"),
    (["results", 0, "exposure_index", "low"], 9e9, r"exposure_index: 9.* doesn't hold"),
    (["results", 0, "frames", 1, "level_dn", "R"], "7", r"frames\[1\]\.level_dn\.R: .*found '7'"),
    (["results", 0, "channels", "G1", "odd"], 1, r"channels\.G1\.odd: the field isn't known"),
    (["results", 0, "offset_ev", "u"], -1.0, "u must be zero or more"),
    (["results", 0, "channels", "R", "clip_dn"], None, r"channels\.R\.clip_dn"),
]


@pytest.mark.parametrize(("path", "value", "what"), WRONG)
def test_wrong_fields_are_named(path, value, what):
    with pytest.raises(ProfileError, match=what) as caught:
        parse_profile(change(path, value), "x.json")
    assert caught.value.where == "x.json"


NUMBER = '"iso": 100'


def kept_with(number: str) -> str:
    return kept(VERSION).read_text().replace(NUMBER, f'"iso": {number}', 1)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("{", "isn't JSON"),
        ("[]", "isn't a profile"),
        ("", "isn't JSON"),
        ("no json", "isn't JSON"),
        ('{"format": "other"}', "isn't a profile"),
        (kept_with("NaN"), "NaN isn't a number"),
        (kept_with("-Infinity"), "-Infinity isn't a number"),
        (kept_with("9" * 5000), "too many digits"),
        (kept_with("9" * 400), r"results\[0\]\.iso: expected a whole number <="),
        ('{"a": ' * 100_000, "nested too deeply"),
        (kept_with("[" * 100_000), "nested too deeply"),
    ],
    ids=range(11),
)
def test_other_files_get_one_sentence(text, what):
    with pytest.raises(ProfileError, match=what) as caught:
        parse_profile(text, "x.json")
    assert len(str(caught.value)) < 300


def test_a_flag_of_a_later_greytare_is_shown_as_such():
    text = change(["results", 0, "flags"], [{"name": "from-later", "size": 0.2}])
    read = parse_profile(text, "x.json")
    (flag,) = read.results[0].flags
    assert "doesn't know" in flags.meaning(flag)
    assert "newer greytare" in flags.advice(flag)
    for words in (report_page(read), describe(read)):
        assert "from-later" in words


def test_a_source_of_a_later_greytare_is_kept_and_shown_as_it_stands():
    read = parse_profile(change(["results", 0, "budget", 0, "source"], "from-later"), "x.json")
    assert read.results[0].budget[0].source == "from-later"
    for words in (report_page(read), describe(read, budget=True), profile_json(read)):
        assert "from-later" in words


@pytest.mark.parametrize("by_t_stop", [False, True])
def test_the_first_version_told_t_stops_by_its_budget(by_t_stop):
    data = json.loads(kept(1).read_text(encoding="utf-8"))
    for result in data["results"]:
        rows = result["budget"]
        result["budget"] = [
            row for row in rows if row["source"] != "aperture mark" or not by_t_stop
        ]
        assert len(result["budget"]) == len(rows) - by_t_stop
    read = parse_profile(json.dumps(data), "x.json")
    assert {result.measured_by_t_stop for result in read.results} == {by_t_stop}


def test_missing_file(tmp_path):
    with pytest.raises(ProfileError, match="no such profile"):
        load_profile(tmp_path / "none.json")


def test_schema_names_the_fixed_keys():
    schema = json.loads(profile_schema())
    assert {"format", "version", "camera", "lens", "meter", "results", "provenance"} <= set(
        schema["properties"]
    )
    result = schema["$defs"]["Result"]["properties"]
    fixed = "iso mode light offset_ev exposure_index saturation_speed clip_headroom_ev"
    fixed += " linear_headroom_ev footroom_ev first_to_clip channels frames flags"
    assert set(fixed.split()) <= set(result)
