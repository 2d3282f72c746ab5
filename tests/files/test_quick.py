"""The quick reader takes what the full reader takes, and gives the rest to it."""

from __future__ import annotations

import copy
import json
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from profiler.errors import ProfileError
from profiler.files.profile import load_profile, parse_profile, profile_json
from profiler.files.quick import build_profile, load_quick
from profiler.onset.profile import Profile

KEPT = Path(__file__).resolve().parents[2] / "fixtures" / "profile-v1.profile.json"


@pytest.fixture(scope="module")
def profile():
    return Profile(load_profile(KEPT))


@pytest.fixture(scope="module")
def saved(profile, tmp_path_factory):
    path = tmp_path_factory.mktemp("quick") / "body.profile.json"
    profile.save(path)
    return path


def places(data, path=()):
    """Every place in a JSON object, few of the many frames."""
    yield path
    items = data.items() if isinstance(data, dict) else enumerate(data)
    for key, value in items:
        if isinstance(value, dict | list):
            if not (isinstance(data, list) and key > 2):
                yield from places(value, (*path, key))
        else:
            yield (*path, key)


def at(data, path):
    for key in path:
        data = data[key]
    return data


def test_both_readers_agree(saved):
    assert load_quick(saved) == load_profile(saved)
    assert build_profile(json.loads(saved.read_text())) is not None


def test_a_profile_saved_and_loaded_is_the_same(saved, profile):
    assert Profile.load(saved) == profile
    assert profile_json(Profile.load(saved).data) == saved.read_text()


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    st.data(),
    st.sampled_from(
        [None, True, 0, 1, -1, 6.7, "6", "", [], {}, [1.0], {"a": 1}, "delete", "extra"]
    ),
)
def test_whatever_the_quick_reader_takes_the_full_one_takes_alike(saved, data, change):
    whole = json.loads(saved.read_text())
    path = data.draw(st.sampled_from([p for p in places(whole) if p]))
    parent = at(whole, path[:-1])
    if change == "delete":
        del parent[path[-1]]
    elif change == "extra" and isinstance(at(whole, path), dict):
        at(whole, path)["surplus"] = 1
    else:
        parent[path[-1]] = copy.deepcopy(change)
    quick = build_profile(whole)
    try:
        full = parse_profile(json.dumps(whole), "file")
    except ProfileError:
        full = None
    if quick is not None:
        assert quick == full


def test_a_doubtful_file_is_answered_by_the_full_reader(saved, tmp_path):
    whole = json.loads(saved.read_text())
    whole["results"][0]["iso"] = "400"
    path = tmp_path / "wrong.json"
    path.write_text(json.dumps(whole))
    assert build_profile(whole) is None
    with pytest.raises(ProfileError, match=r"results\[0\]\.iso"):
        load_quick(path)


# file content -> words of the refusal
@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("no json", "is no JSON"),
        ("[]", "is no profile"),
        ('{"format": "other"}', "is no profile"),
        ('{"format": "greytare-profile", "version": 99}', "has version 99"),
        ('{"format": "greytare-profile", "version": "1"}', "no version number"),
    ],
)
def test_refusals(text, words, tmp_path):
    path = tmp_path / "a.json"
    path.write_text(text)
    with pytest.raises(ProfileError, match=words):
        load_quick(path)
    with pytest.raises(ProfileError, match="no such profile"):
        load_quick(tmp_path / "none.json")
