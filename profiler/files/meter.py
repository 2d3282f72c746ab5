"""The user's meter in a small TOML file."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path
from typing import Any

from profiler.errors import GreytareError
from profiler.files.regular import read_text
from profiler.files.toml import TomlError, parse_toml
from profiler.records import Meter

_TEXT = ("make", "model", "serial")


def read_meter(path: Path) -> Meter:
    """Return the meter in the table [meter] of a TOML file; what it doesn't say has defaults.

    Fields: make, model, serial (text); k_cd_m2, c_flat_lx, c_dome_lx, repeatability_ev,
    resolution_ev (numbers).
    """
    try:
        data = parse_toml(read_text(path))
    except OSError as error:
        raise GreytareError(
            f"the meter file can't be read ({error.strerror})", str(path), "Give a TOML file"
        ) from error
    except (UnicodeDecodeError, TomlError) as error:
        raise GreytareError(
            f"the meter file isn't valid TOML ({error})", str(path), "Correct it"
        ) from error
    table = data.get("meter")
    if not isinstance(table, dict):
        raise GreytareError("it has no table [meter]", str(path), "Begin it with the line [meter]")
    known = {field.name for field in fields(Meter)}
    for name, value in table.items():
        where = f"{path}, [meter] {name}"
        if name not in known:
            raise GreytareError("the field is not known", where, f"Use {', '.join(sorted(known))}")
        if name in _TEXT:
            if not isinstance(value, str):
                raise GreytareError(f"{value!r} isn't text", where, "Put it in quotation marks")
        elif isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value < 1e4:
            raise GreytareError(f"{value!r} isn't a usable number", where, "Write a number")
        elif value == 0 and not name.endswith("_ev"):
            raise GreytareError("the constant is zero", where, "Write the maker's figure")
    figures: dict[str, Any] = {k: v if k in _TEXT else float(v) for k, v in table.items()}
    return Meter(**figures)
