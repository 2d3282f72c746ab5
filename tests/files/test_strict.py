"""What is read is exactly what is declared, in the records and in the schema alike."""

from __future__ import annotations

import copy
import json
from dataclasses import asdict
from pathlib import Path

import jsonschema
from hypothesis import given, settings
from hypothesis import strategies as st

from profiler.errors import ProfileError
from profiler.files.profile import (
    UPGRADES,
    load_profile,
    parse_profile,
    profile_json,
    profile_schema,
)
from profiler.onset.profile import Profile

KEPT = Path(__file__).resolve().parents[2] / "fixtures" / "profile-v2.profile.json"
WHOLE = json.loads(KEPT.read_text())
BEYOND = ("doesn't hold", "u must be zero or more")
RULES = jsonschema.Draft202012Validator(json.loads(profile_schema()))


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


def test_a_profile_saved_and_loaded_is_the_same(tmp_path):
    profile = Profile(load_profile(KEPT))
    profile.save(tmp_path / "a.json")
    assert Profile.load(tmp_path / "a.json") == profile
    assert profile_json(profile.data) == (tmp_path / "a.json").read_text()


@settings(max_examples=200, deadline=None)
@given(
    st.sampled_from([path for path in places(WHOLE) if path]),
    st.sampled_from(
        [None, True, 0, 1, -1, 6.7, "6", "", [], {}, [1.0], {"a": 1}, "delete", "extra"]
    ),
)
def test_what_is_read_is_what_the_schema_allows(path, change):
    whole = copy.deepcopy(WHOLE)
    parent = at(whole, path[:-1])
    if change == "delete":
        del parent[path[-1]]
    elif change == "extra" and isinstance(at(whole, path), dict):
        at(whole, path)["surplus"] = 1
    else:
        parent[path[-1]] = copy.deepcopy(change)
    if type(whole.get("version")) is int and whole["version"] in UPGRADES:
        return  # an older version is upgraded before the schema has its say
    read, why = read_or_why(whole)
    # the schema can't say that a value lies within its interval
    valid = RULES.is_valid(whole) and not any(words in why for words in BEYOND)
    assert valid is (read is not None), why
    if read is None:
        return
    assert json.loads(json.dumps(asdict(read)))["results"] == at(parsed_again(read), ("results",))


def read_or_why(whole):
    try:
        return parse_profile(json.dumps(whole), "file"), ""
    except ProfileError as error:
        return None, str(error)


def parsed_again(read):
    return json.loads(profile_json(parse_profile(profile_json(read), "file")))
