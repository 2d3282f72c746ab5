"""A TOML file read into plain objects, within limits."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any, Final

from profiler.errors import GreytareError
from profiler.files.regular import read_text

_DEEPEST: Final = 16
_LARGEST_INTEGER: Final = 2**63 - 1  # TOML 1.0: 64 bits, signed
_LONGEST: Final = 1 << 18
_LONG_KEY: Final = re.compile(
    r"""(?:(?:[\w-]{1,99}|"[^"\n]{0,99}"|'[^'\n]{0,99}')[ \t]{0,9}\.[ \t]{0,9}){17}"""
)
"""A key of more parts than a table of ours is deep: tomllib takes 18 s for 20,000 parts."""


def read_toml(path: Path, what: str, kind: type[GreytareError] = GreytareError) -> dict[str, Any]:
    """Return the tables in a TOML file; an error of that kind says why `what` can't be read."""
    try:
        text = read_text(path)
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it isn't UTF-8 text"
        raise kind(f"{what} can't be read ({reason})", str(path), "Give a TOML file") from error
    return parse_toml(text, str(path), kind)


def parse_toml(text: str, where: str, kind: type[GreytareError] = GreytareError) -> dict[str, Any]:
    """Return the tables in a TOML text; an error of that kind says what is wrong with it."""
    try:
        if len(text) > _LONGEST:
            raise ValueError("it is longer than 256 KiB")
        if _LONG_KEY.search(text):
            raise ValueError("it holds a key of very many parts")
        data = tomllib.loads(text)
        _check(data)
    except RecursionError as error:
        raise kind("it isn't valid TOML (nested too deep)", where, "Correct it") from error
    except ValueError as error:  # tomllib's own, and Python's for integers of thousands of digits
        raise kind(f"it isn't valid TOML ({error})", where, "Correct it") from error
    return data


def _check(data: dict[str, Any]) -> None:
    waiting: list[tuple[object, int]] = [(data, 0)]
    while waiting:
        value, depth = waiting.pop()
        if depth > _DEEPEST:
            raise ValueError("it is nested too deep")
        if isinstance(value, dict):
            waiting += [(each, depth + 1) for each in value.values()]
        elif isinstance(value, list):
            waiting += [(each, depth + 1) for each in value]
        elif isinstance(value, int) and abs(value) > _LARGEST_INTEGER:
            raise ValueError("an integer in it has more than 64 bits")
