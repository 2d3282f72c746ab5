"""The user's meter in a small TOML file."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import fields
from pathlib import Path
from typing import Any

from profiler.errors import GreytareError
from profiler.files.atomic import write_whole
from profiler.files.toml import read_toml
from profiler.records import MODES, Linearity, Meter

_TEXT = ("make", "model", "serial")
_FIGURES = tuple(f.name for f in fields(Meter) if f.name not in (*_TEXT, "linearity"))
_ARRAYS = tuple(f.name for f in fields(Linearity))
_MOST_LEVELS = 1000


def read_meter(path: Path) -> Meter:
    """Return the meter in the table [meter] of a TOML file; what it doesn't say has defaults.

    Fields: make, model, serial (text); k_cd_m2, c_flat_lx, c_dome_lx, repeatability_ev,
    resolution_ev (numbers). A table [linearity.MODE], such as [linearity.spot], holds how the meter
    strays over its range: level_ev100, deviation_ev, u_ev, lists of equal length.
    """
    data = read_toml(path, "the meter file")
    table = data.get("meter")
    if not isinstance(table, dict):
        raise GreytareError("it has no table [meter]", str(path), "Begin it with the line [meter]")
    known = {*_TEXT, *_FIGURES}
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
    return Meter(**figures, linearity=_linearity(data.get("linearity", {}), path))


def write_meter(
    meter: Meter, path: Path, notes: Sequence[str] = (), *, replace: bool = False
) -> Path | None:
    """Write a meter file whole or not at all; return where an older one was kept, if any.

    notes: comments at its head, one a line.
    """
    return write_whole(path, meter_toml(meter, notes), replace=replace)


def meter_toml(meter: Meter, notes: Sequence[str] = ()) -> str:
    """Return the text of a meter file, which read_meter turns into the same meter."""
    lines = [f"# {' '.join(note.split())}" for note in notes]
    lines += ["[meter]"]
    lines += [
        f"{name} = {json.dumps(value, ensure_ascii=False)}"
        for name in (*_TEXT, *_FIGURES)
        if (value := getattr(meter, name)) not in (None, "")
    ]
    for mode, found in meter.linearity.items():
        lines += ["", f"[linearity.{mode}]"]
        lines += [f"{name} = {json.dumps(list(getattr(found, name)))}" for name in _ARRAYS]
    return "\n".join(lines) + "\n"


def _linearity(tables: object, path: Path) -> dict[str, Linearity]:
    """The tables [linearity.MODE], checked."""
    if not isinstance(tables, dict):
        raise GreytareError(
            "linearity isn't a table", str(path), "Write a table for a mode: [linearity.spot]"
        )
    out = {}
    for mode, table in tables.items():
        where = f"{path}, [linearity.{mode}]"
        if mode not in MODES or not isinstance(table, dict):
            raise GreytareError(
                f"{mode!r} isn't a meter mode", where, f"Use one of {', '.join(MODES)}"
            )
        unknown = [name for name in table if name not in _ARRAYS]
        if unknown or len(table) < len(_ARRAYS):
            raise GreytareError(
                f"the field {unknown[0]} is not known" if unknown else "a field is missing",
                where,
                f"Give {', '.join(_ARRAYS)}",
            )
        for name, values in table.items():
            good = isinstance(values, list) and 2 <= len(values) <= _MOST_LEVELS
            if not good or not all(_is_number(value) for value in values):
                raise GreytareError(
                    "it isn't a list of numbers", f"{where} {name}", "Write two numbers or more"
                )
        lists = {name: tuple(float(value) for value in table[name]) for name in _ARRAYS}
        try:
            out[mode] = Linearity(**lists)
        except ValueError as error:
            raise GreytareError(str(error), where, "Correct the lists") from error
    return out


def _is_number(value: object) -> bool:
    """Whether it is a usable number of EV."""
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e2
