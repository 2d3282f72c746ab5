"""The words that the page explains at its foot."""

from __future__ import annotations

import html
from pathlib import Path

from profiler.show.glossary import GLOSSARY
from profiler.web.rendering import fragment

REPO = Path(__file__).resolve().parents[2]


def test_every_page_explains_the_words():
    text = html.unescape(fragment("error.html", here="", title="Not done", sentence="No."))
    for word, meaning in GLOSSARY.items():
        assert f"<dt>{word}</dt><dd>{meaning}</dd>" in text


def test_the_developers_read_the_same_words():
    text = (REPO / "DEVELOPERS.md").read_text(encoding="utf-8")
    for word, meaning in GLOSSARY.items():
        assert f"| {word} | {meaning} |" in text


def test_the_words_that_stumble_are_there():
    words = ["offset", "placement", "aim", "headroom", "footroom", "floor", "label", "series"]
    assert set(words) <= set(GLOSSARY)
