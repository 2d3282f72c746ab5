"""The pictures of the README show what the program says today."""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path

import pytest

REPO = Path(__file__).resolve().parents[1]
FIXTURES = REPO / "fixtures"
PICTURES = ("result.png", "placement.png", "page.png")
UNSEEN_EV = 0.03
"""Half the width of a mark: a smaller step can't be seen in a picture."""


@pytest.fixture(scope="module")
def kept():
    return json.loads((FIXTURES / "pictures.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def today(tmp_path_factory):
    place = tmp_path_factory.mktemp("pictures")
    path = FIXTURES / "draw_pictures.py"
    spec = importlib.util.spec_from_file_location("draw_pictures", path)
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("GREYTARE_CACHE", str(place / "cache"))
        found = script.said(script.calibrated(place / "window-card"))
    return json.loads(json.dumps(found))


def same(one, other):
    """Whether two parts of the record look alike in a picture."""
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(same(one[k], other[k]) for k in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) <= UNSEEN_EV
    return one == other


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_is_current(kept, today, name):
    assert same(kept[name], today[name]), "draw anew: python fixtures/draw_pictures.py"


@pytest.mark.parametrize(
    ("one", "other", "alike"),
    [
        ({"a": [1.0, "less"]}, {"a": [1.02, "less"]}, True),
        ({"a": [1.0, "less"]}, {"a": [1.04, "less"]}, False),
        ({"a": [1.0, "less"]}, {"a": [1.0, "more"]}, False),
        ([1.0], [1.0, 1.0], False),
        ({"a": 1.0}, {"b": 1.0}, False),
        (None, 1.0, False),
    ],
)
def test_what_counts_as_alike(one, other, alike):
    assert same(one, other) is alike


def test_the_readme_shows_them_and_says_what_they_say(kept):
    readme = (REPO / "README.md").read_text(encoding="utf-8")
    for name in PICTURES:
        assert f"](fixtures/{name})" in readme
        assert (FIXTURES / name).stat().st_size < 150_000
    assert f"> {kept['result.png']['headline']}\n" in readme
