"""What is needed to run is licensed so that it may be given away under GPL-3.0-or-later."""

from __future__ import annotations

import re
import tomllib
from importlib import metadata
from pathlib import Path

import pytest

# families that the GNU project lists as compatible with GPL version 3 (gnu.org, license list)
COMPATIBLE = re.compile(
    r"(?i)\b(mit|bsd|apache|isc|mpl|lgpl|gpl|gnu|psf|python software|hpnd|zlib|unlicense|0bsd|cc0)"
)
NOT_COMPATIBLE = re.compile(r"(?i)proprietary|non-?commercial|gpl-?2\.0-only|sspl|busl")


def needed() -> list[str]:
    """The distributions that greytare's own requirements lead to, extras left out."""
    project = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text())["project"]
    waiting, seen = list(project["dependencies"]), set()
    while waiting:
        words = waiting.pop()
        name = re.match(r"[\w.-]+", words)[0].lower().replace("_", "-")
        if name in seen or "extra ==" in words:
            continue
        try:
            found = metadata.distribution(name)
        except metadata.PackageNotFoundError:
            if ";" in words:  # for another system or Python
                continue
            raise
        seen.add(name)
        waiting += found.requires or []
    return sorted(seen)


def licence(name: str) -> str:
    """All that a distribution says of its licence."""
    about = metadata.metadata(name)
    said = [about.get("License-Expression") or "", (about.get("License") or "")[:300]]
    classes = about.get_all("Classifier") or []
    said += [each for each in classes if each.startswith("License")]
    return " ".join(said)


@pytest.mark.parametrize("name", needed())
def test_licence_allows_it(name):
    said = licence(name)
    assert COMPATIBLE.search(said), f"{name}: {said!r}"
    assert not NOT_COMPATIBLE.search(said), f"{name}: {said!r}"


def test_the_list_is_whole():
    assert {"numpy", "rawpy", "exiv2", "starlette", "pillow"} <= set(needed())
