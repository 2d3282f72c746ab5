"""The saved profile: versioned JSON, checked field by field when read."""

from __future__ import annotations

import json
from dataclasses import asdict
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from profiler.errors import ProfileError
from profiler.files.regular import read_text
from profiler.files.whole import write_whole
from profiler.results import FORMAT, VERSION, ProfileData

if TYPE_CHECKING:
    from pydantic import TypeAdapter

UPGRADES: dict[int, Any] = {}
"""Version -> function from the JSON object of that version to the next one's."""


@cache
def _adapter() -> TypeAdapter[ProfileData]:
    from pydantic import TypeAdapter

    return TypeAdapter(ProfileData)


def profile_json(profile: ProfileData) -> str:
    """Return the JSON text of a profile."""
    return json.dumps(asdict(profile), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def profile_schema() -> str:
    """Return the JSON Schema of the format."""
    return json.dumps(_adapter().json_schema(), indent=2) + "\n"


def save_profile(profile: ProfileData, path: Path, *, replace: bool = False) -> Path | None:
    """Write a profile whole or not at all; return where an older one was kept, if any."""
    return write_whole(path, profile_json(profile), replace=replace)


def load_profile(path: Path) -> ProfileData:
    """Return the profile at `path`; ProfileError names the field that is wrong."""
    try:
        text = read_text(path)
    except FileNotFoundError as error:
        raise ProfileError(
            "there is no such profile", str(path), "Make one with: greytare fit"
        ) from error
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it isn't UTF-8 text"
        raise ProfileError(
            f"the profile can't be read ({reason})",
            str(path),
            "Give a file written by: greytare fit",
        ) from error
    return parse_profile(text, str(path))


def parse_profile(text: str, where: str) -> ProfileData:
    """Return the profile in `text`; older versions are brought up step by step, none is guessed."""
    from pydantic import ValidationError

    try:
        data = json.loads(text)
    except (ValueError, RecursionError) as error:
        reason = "nested too deep, or a number of thousands of digits"
        if isinstance(error, json.JSONDecodeError):
            reason = f"line {error.lineno}: {error.msg}"
        raise ProfileError(
            f"the file is no JSON ({reason})",
            where,
            "Give a file written by: greytare fit",
        ) from error
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise ProfileError(
            f'the file is no profile (it lacks "format": "{FORMAT}")',
            where,
            "Give a file written by: greytare fit",
        )
    version = data.get("version")
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise ProfileError(
            f"version {version!r} is no version number", where, "Fit the series again"
        )
    if version > VERSION:
        raise ProfileError(
            f"the profile has version {version}, this greytare reads up to {VERSION}",
            where,
            "Install a newer greytare",
        )
    upgraded = version < VERSION
    while version < VERSION:
        data = UPGRADES[version](data)
        version += 1
    try:
        return _adapter().validate_json(json.dumps(data) if upgraded else text)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=True)[0]
        place = "".join(
            f"[{part}]" if isinstance(part, int) else f".{part}" for part in first["loc"]
        ).lstrip(".")
        raise ProfileError(
            f"{place or 'the file'}: {first['msg'].lower()} (found {first.get('input')!r:.60})",
            where,
            "Undo the change to the file, or fit the series again",
        ) from error
