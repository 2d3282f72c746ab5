"""The saved files of a body, its profile and its lenses: versioned JSON, checked when read."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NoReturn

from profiler.errors import ProfileError
from profiler.files.atomic import write_whole
from profiler.files.regular import read_text
from profiler.results import FORMAT, VERSION, LensesData, ProfileData, Source

if TYPE_CHECKING:
    from profiler.files.strict import StrictReader


def _to_2(data: Any) -> Any:
    """Version 2 holds the time of shooting, two intervals and whether T-stops placed the frames.

    Of version 1 only the last can be told: no iris mark stands in the budget then.
    """
    results = data.get("results")
    told = [_with_t_stop(each) for each in results] if isinstance(results, list) else results
    return data | {"version": 2, "results": told}


def _with_t_stop(result: Any) -> Any:
    match result:
        case {"budget": [*rows]} if all(isinstance(row, dict) for row in rows):
            sources = [row.get("source") for row in rows]
            return result | {"measured_by_t_stop": Source.APERTURE_MARK not in sources}
    return result


UPGRADES: Final[dict[int, Callable[[Any], Any]]] = {1: _to_2}
"""Version -> function from the JSON object of that version to the next one's."""
_WRITTEN_BY: Final = "Give a file written by: {greytare fit}"


@cache
def _reader() -> StrictReader[ProfileData]:
    from profiler.files.strict import StrictReader

    return StrictReader(ProfileData)


def profile_json(profile: ProfileData) -> str:
    """Return the JSON text of a profile."""
    return json.dumps(asdict(profile), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def profile_schema() -> str:
    """Return the JSON Schema of the format."""
    return json.dumps(_reader().schema(), indent=2) + "\n"


def save_profile(profile: ProfileData, path: Path, *, replace: bool = False) -> Path | None:
    """Write a profile whole or not at all; return where an older one was kept, if any."""
    return write_whole(path, profile_json(profile), replace=replace)


def load_profile(path: Path) -> ProfileData:
    """Return the profile at `path`; ProfileError names the field that is wrong."""
    return parse_profile(_text_of(path, "profile", "Make one with: {greytare fit}"), str(path))


def _text_of(path: Path, what: str, mend: str) -> str:
    """The text of a file of this kind; ProfileError where there is none or it can't be read."""
    try:
        return read_text(path)
    except FileNotFoundError as error:
        raise ProfileError(f"there is no such {what}", str(path), mend) from error
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it isn't UTF-8 text"
        raise ProfileError(f"the {what} can't be read ({reason})", str(path), mend) from error


def parse_profile(text: str, where: str) -> ProfileData:
    """Return the profile in `text`; older versions are brought up step by step, none is guessed."""
    try:
        return _reader().read(text)
    except (ValueError, RecursionError):
        return _parse_slowly(text, where)


def _parse_slowly(text: str, where: str) -> ProfileData:
    """The profile where it has an older version; ProfileError says what else is wrong with it."""
    from profiler.files.strict import FieldError, at

    data = _json(text, where)
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise ProfileError(
            f'the file isn\'t a profile (it lacks "format": "{FORMAT}")', where, _WRITTEN_BY
        )
    version = data.get("version")
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise ProfileError(
            f"version {version!r:.60} isn't a version number", where, "Fit the series again"
        )
    if version > VERSION:
        raise ProfileError(
            f"the profile has version {version}, this greytare reads up to {VERSION}",
            where,
            "Install a newer greytare",
        )
    while version < VERSION:
        data = UPGRADES[version](data)
        version += 1
    try:
        return _reader().read(json.dumps(data))
    except FieldError as error:
        found = f" (found {at(data, error.path)!r:.60})" if error.what.startswith("exp") else ""
        raise ProfileError(
            f"{error.path or 'the file'}: {error.what}{found}",
            where,
            "Undo the change to the file, or fit the series again",
        ) from error
    except (ValueError, RecursionError) as error:
        raise ProfileError(f"it can't be read ({error})", where, _WRITTEN_BY) from error


def _json(text: str, where: str) -> Any:
    try:
        return json.loads(text, parse_constant=_no_number)
    except json.JSONDecodeError as error:
        what = f"the file isn't JSON (line {error.lineno}: {error.msg})"
        raise ProfileError(what, where, _WRITTEN_BY) from error
    except ValueError as error:
        what = str(error) if str(error).endswith("a number") else "a number has too many digits"
        raise ProfileError(f"the file isn't JSON ({what})", where, _WRITTEN_BY) from error
    except RecursionError as error:
        raise ProfileError("the file is nested too deeply", where, _WRITTEN_BY) from error


def _no_number(word: str) -> NoReturn:
    raise ValueError(f"{word} isn't a number")


_LENSES_BY: Final = "Give a file written by: {greytare lens}"


@cache
def _lenses_reader() -> StrictReader[LensesData]:
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

    text = _text_of(path, "file of lenses", "Measure them with: {greytare lens}")
    try:
        return _lenses_reader().read(text)
    except FieldError as error:
        raise ProfileError(
            f"{error.path or 'the file'}: {error.what}", str(path), _LENSES_BY
        ) from error
    except (ValueError, RecursionError) as error:
        raise ProfileError(f"it can't be read ({error})", str(path), _LENSES_BY) from error
