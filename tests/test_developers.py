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
