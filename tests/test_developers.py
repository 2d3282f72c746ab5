"""The map for developers shows the folders as they are."""

from __future__ import annotations

import re
from pathlib import Path

REPO = Path(__file__).resolve().parents[1]
TEXT = (REPO / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_every_file_that_is_named_exists():
    named = set(re.findall(r"`([\w./-]+\.(?:py|md|json|js))`", TEXT)) - {"profile-vN.profile.json"}
    bases = (REPO, REPO / "profiler", REPO / "profiler" / "web")
    # a bare name belongs to the folder of its line; a path has to lead somewhere
    paths = {name for name in named if "/" in name and "<" not in name and "vN" not in name}
    assert len(paths) > 20
    assert [p for p in sorted(paths) if not any((b / p).exists() for b in bases)] == []


def test_the_map_holds_every_part_of_the_package():
    first = TEXT[TEXT.index("| place | holds |") : TEXT.index("## Recipes")]
    told = {name.strip("/") for name in re.findall(r"`([\w/.]+)`", first)}
    parts = {
        path.name
        for path in (REPO / "profiler").iterdir()
        if path.name[0] not in "_." and path.suffix in ("", ".py") and path.name != "py.typed"
    }
    assert parts <= told


MOST = {
    "An on-set answer": 4,
    "An option of one answer": 3,
    "An option of all that is asked of a body": 3,
    "A flag": 2,
    "A column of the sheet": 2,
    "A column of the fleet's table": 3,
}
NUMBERS = {"Two": 2, "Three": 3, "Four": 4}


def test_recipes_name_the_files_that_they_count():
    recipes = dict(re.findall(r"(?m)^\* \*\*([^*]+)\*\*, such as (.+)$", TEXT))
    assert set(recipes) == set(MOST)
    for name, text in recipes.items():
        before, count = re.split(r"\b(Two|Three|Four)(?= files\b)", text, maxsplit=1)[:2]
        named = set(re.findall(r"`([\w/]+\.py)`", before))
        assert all((REPO / "profiler" / each).exists() for each in named)
        assert len(named) == NUMBERS[count] <= MOST[name]
