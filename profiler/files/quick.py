"""A saved profile read without the schema library, where nothing about it is in doubt.

Commands on set answer at once, while loading the schema library takes longer than all they do.
The reader here takes a file only if every field has exactly the type that the record declares. At
the first doubt, whatever it is, the file goes to the full reader, which says what is wrong.
"""

from __future__ import annotations

import dataclasses
import json
import math
import types
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from profiler.files.profile import load_profile
from profiler.files.regular import read_text
from profiler.results import FORMAT, VERSION, ProfileData


class _DoubtfulError(Exception):
    """The value isn't exactly what its record declares."""


def load_quick(path: Path) -> ProfileData:
    """Return the profile at `path`; ProfileError, from the full reader, names what is wrong."""
    try:
        data = json.loads(read_text(path))
    except (OSError, ValueError, RecursionError):
        return load_profile(path)
    found = build_profile(data)
    return load_profile(path) if found is None else found


def build_profile(data: Any) -> ProfileData | None:
    """Return the record in a JSON object, None where any field of it is in doubt."""
    if not isinstance(data, dict) or (data.get("format"), data.get("version")) != (FORMAT, VERSION):
        return None
    try:
        built = _build(ProfileData, data)
    except (_DoubtfulError, TypeError, ValueError):
        return None
    return built if isinstance(built, ProfileData) else None


def _build(kind: Any, value: Any) -> Any:
    if dataclasses.is_dataclass(kind):
        return _record(kind, value)
    origin, arguments = get_origin(kind), get_args(kind)
    if origin is tuple:
        return _tuple(arguments, value)
    if origin is Mapping:
        if type(value) is not dict:
            raise _DoubtfulError
        return {key: _build(arguments[1], each) for key, each in value.items()}
    if origin is Literal:
        if not any(type(value) is type(known) and value == known for known in arguments):
            raise _DoubtfulError
        return value
    if origin in (Union, types.UnionType):
        if value is None and type(None) in arguments:
            return None
        (only,) = (each for each in arguments if each is not type(None))
        return _build(only, value)
    return _plain(kind, value)


def _plain(kind: Any, value: Any) -> Any:
    if kind is float:
        if type(value) not in (int, float) or not math.isfinite(value):
            raise _DoubtfulError
        return float(value)
    if kind not in (int, str, bool) or type(value) is not kind:
        raise _DoubtfulError
    return value


def _tuple(arguments: tuple[Any, ...], value: Any) -> tuple[Any, ...]:
    if type(value) is not list:
        raise _DoubtfulError
    if len(arguments) == 2 and arguments[1] is Ellipsis:
        return tuple(_build(arguments[0], each) for each in value)
    if len(arguments) != len(value):
        raise _DoubtfulError
    return tuple(_build(kind, each) for kind, each in zip(arguments, value, strict=True))


def _record(kind: Any, value: Any) -> Any:
    kinds, needed = _fields(kind)
    if type(value) is not dict or not needed <= value.keys() <= kinds.keys():
        raise _DoubtfulError
    return kind(**{name: _build(kinds[name], each) for name, each in value.items()})


@cache
def _fields(kind: Any) -> tuple[dict[str, Any], frozenset[str]]:
    """Declared types of a record, and the names of the fields that have no default."""
    hints = get_type_hints(kind)
    fields = dataclasses.fields(kind)
    needed = frozenset(
        field.name
        for field in fields
        if field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING
    )
    return {field.name: hints[field.name] for field in fields}, needed
