"""Sources of uncertainty are found by their type and shown in words."""

from __future__ import annotations

import ast
import json
from pathlib import Path

import pytest

import profiler
from profiler.results import Source
from profiler.show.sources import SOURCE_WORDS, source_words

PACKAGE = Path(profiler.__file__).parent
SHORT = {"black", "clip", "one reading"}
"""Sources whose names are words of other meanings too."""


def test_each_source_of_a_profile_has_words():
    kept = Path(__file__).resolve().parents[2] / "fixtures"
    for path in kept.glob("*.profile.json"):
        for result in json.loads(path.read_text(encoding="utf-8"))["results"]:
            for row in (*result["budget"], *result.get("saturation_budget", [])):
                assert Source(row["source"]) in SOURCE_WORDS
    assert len(set(SOURCE_WORDS.values())) == len(SOURCE_WORDS)


def test_a_source_is_its_text_in_a_profile():
    assert Source("fit scatter") == "fit scatter" == str(Source.FIT_SCATTER)
    assert source_words("fit scatter") == "scatter of the frames"
    assert source_words("from-later") == "from-later"


@pytest.mark.parametrize("folder", ["calibration", "onset", "fleet", "web", "cli"])
def test_nothing_finds_a_source_by_its_text(folder):
    texts = {source.value for source in Source} - SHORT
    for path in (PACKAGE / folder).rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and node.value in texts:
                pytest.fail(f"{path.name}, line {node.lineno}: {node.value!r}")
