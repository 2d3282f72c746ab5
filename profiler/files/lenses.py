"""The lenses of a body, kept beside its profile: versioned JSON, checked field by field."""

from __future__ import annotations

import json
from dataclasses import asdict
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

from profiler.errors import ProfileError
from profiler.files.atomic import write_whole
from profiler.files.regular import read_text
from profiler.results import LensesData

if TYPE_CHECKING:
    from profiler.files.strict import StrictReader

_WRITTEN_BY: Final = "Give a file written by: {greytare lens}"


@cache
def _reader() -> StrictReader[LensesData]:
    from profiler.files.strict import StrictReader

    return StrictReader(LensesData)


def lenses_path(profile: Path) -> Path:
    """Return where the lenses of a profile are kept: BODY.lenses.json beside BODY.profile.json.

    >>> str(lenses_path(Path("halden.profile.json")))
    'halden.lenses.json'
    """
    stem = profile.name.removesuffix(".json").removesuffix(".profile")
    return profile.with_name(f"{stem}.lenses.json")


def lenses_json(lenses: LensesData) -> str:
    """Return the JSON text of the lenses of a body."""
    return json.dumps(asdict(lenses), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def save_lenses(lenses: LensesData, path: Path, *, replace: bool = False) -> Path | None:
    """Write the lenses whole or not at all; return where an older file was kept, if any."""
    return write_whole(path, lenses_json(lenses), replace=replace)


def load_lenses(path: Path) -> LensesData:
    """Return the lenses at `path`; ProfileError names the field that is wrong."""
    from profiler.files.strict import FieldError

    try:
        text = read_text(path)
    except FileNotFoundError as error:
        raise ProfileError(
            "there is no such file of lenses", str(path), "Measure them with: {greytare lens}"
        ) from error
    except (OSError, UnicodeDecodeError) as error:
        raise ProfileError("the lenses can't be read", str(path), _WRITTEN_BY) from error
    try:
        return _reader().read(text)
    except FieldError as error:
        raise ProfileError(
            f"{error.path or 'the file'}: {error.what}", str(path), _WRITTEN_BY
        ) from error
    except (ValueError, RecursionError) as error:
        raise ProfileError(f"it can't be read ({error})", str(path), _WRITTEN_BY) from error
