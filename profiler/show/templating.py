"""Templates filled in, every name escaped."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jinja2 import Environment


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("profiler.show", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


def fill(name: str, **values: object) -> str:
    """Return the template `name` filled in; text that isn't marked safe in it is escaped."""
    return _environment().get_template(name).render(**values)


def plain(name: str) -> str:
    """Return the file `name` of the templates as it is."""
    from importlib.resources import files

    return (files("profiler.show") / "templates" / name).read_text(encoding="utf-8")
