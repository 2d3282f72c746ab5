"""The saved profile: refused with the JSON path of what is wrong; every version still reads."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from profiler.errors import ProfileError
from profiler.files.profile import load_profile, parse_profile, profile_json, profile_schema
from profiler.results import VERSION

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
    (["version"], "1", "no version number"),
    (["version"], KeyError, "no version number"),
    (["format"], "other", "no profile"),
    (["results", 0, "offset_ev", "u"], -1.0, "u must be zero or more"),
    (["results", 0, "channels", "R", "clip_dn"], None, r"channels\.R\.clip_dn"),
]


@pytest.mark.parametrize(("path", "value", "what"), WRONG)
def test_wrong_fields_are_named(path, value, what):
    with pytest.raises(ProfileError, match=what) as caught:
        parse_profile(change(path, value), "x.json")
    assert caught.value.where == "x.json"


@pytest.mark.parametrize(
    ("text", "what"), [("{", "no JSON"), ("[]", "no profile"), ("", "no JSON")]
)
def test_other_files(text, what):
    with pytest.raises(ProfileError, match=what):
        parse_profile(text, "x.json")


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
