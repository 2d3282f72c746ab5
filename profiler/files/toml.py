"""The text of a TOML file read into plain objects, within limits."""

from __future__ import annotations

import re
import tomllib
from typing import Any, Final

_DEEPEST: Final = 16
_LARGEST_INTEGER: Final = 2**63 - 1  # TOML 1.0: 64 bits, signed
_LONGEST: Final = 1 << 18
_LONG_KEY: Final = re.compile(
    r"""(?:(?:[\w-]{1,99}|"[^"\n]{0,99}"|'[^'\n]{0,99}')[ \t]{0,9}\.[ \t]{0,9}){17}"""
)
"""A key of more parts than a table of ours is deep: tomllib takes 18 s for 20,000 parts."""


class TomlError(ValueError):
    """The text isn't TOML, or no TOML of ours has such a shape."""


def parse_toml(text: str) -> dict[str, Any]:
    """Return the tables in a TOML text; TomlError says what is wrong with it."""
    if len(text) > _LONGEST:
        raise TomlError("it is longer than 256 KiB")
    if _LONG_KEY.search(text):
        raise TomlError("it holds a key of very many parts")
    try:
        data = tomllib.loads(text)
    except RecursionError as error:
        raise TomlError("it is nested too deep") from error
    except ValueError as error:  # its own kind, and Python's for integers of thousands of digits
        raise TomlError(str(error)) from error
    _check(data)
    return data


def _check(data: dict[str, Any]) -> None:
    waiting: list[tuple[object, int]] = [(data, 0)]
    while waiting:
        value, depth = waiting.pop()
        if depth > _DEEPEST:
            raise TomlError("it is nested too deep")
        if isinstance(value, dict):
            waiting += [(each, depth + 1) for each in value.values()]
        elif isinstance(value, list):
            waiting += [(each, depth + 1) for each in value]
        elif isinstance(value, int) and abs(value) > _LARGEST_INTEGER:
            raise TomlError("an integer in it has more than 64 bits")
