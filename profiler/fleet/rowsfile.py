"""Rows of the fleet's table as CSV text, the same byte for byte wherever they come from."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from profiler.errors import ProfileError
from profiler.files.csv_text import read_csv, safe_cell
from profiler.fleet.rows import COLUMNS, KINDS, Row, cells, sorted_rows


def rows_csv(rows: Sequence[Row]) -> str:
    """Return the table as CSV text, sorted; numbers keep all their digits, so that it reads back.

    Nothing in it depends on when or where the run took place.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in sorted_rows(rows):
        writer.writerow([_text(value) for value in cells(row)])
    return out.getvalue()


def read_rows_csv(path: Path) -> list[Row]:
    """Return the rows of a CSV written by rows_csv; ProfileError names row and column."""
    mend = "Give a CSV written by: {greytare fleet}"
    try:
        found = read_csv(path, ProfileError, mend)
    except FileNotFoundError as error:
        raise ProfileError("there is no such table", str(path), mend) from error
    missing = [name for name in COLUMNS if name not in found.columns]
    if missing:
        raise ProfileError(f"the table lacks the column {missing[0]!r}", str(path), mend)
    return [
        row_from({name: texts[name] for name in COLUMNS}, f"{path}, row {line}")
        for line, texts in found.records()
    ]


def row_from(values: Mapping[str, Any], where: str) -> Row:
    """Return the row that cells of text, or of numbers, stand for."""
    return Row(**{name: _cell(values[name], KINDS[name], f"{where}, {name}") for name in COLUMNS})


def _text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return repr(value) if isinstance(value, float) else safe_cell(str(value))


def _cell(value: Any, kind: str, where: str) -> Any:
    try:
        if kind == "str":
            return "" if value is None else _only(str, value)
        if kind == "bool":
            answers = {"yes": True, "no": False, "1": True, "0": False}
            answers |= {"True": True, "False": False}
            return answers[str(value)]
        if kind == "int":
            return int(value)
        empty = value is None or value == "" or (isinstance(value, float) and math.isnan(value))
        if empty and kind == "float | None":
            return None
        number = float(value)
        if not math.isfinite(number):
            raise ValueError
    except (KeyError, TypeError, ValueError) as error:
        raise ProfileError(
            f"{value!r} isn't a valid {kind}", where, "Make the table anew"
        ) from error
    return number


def _only(kind: type, value: Any) -> Any:
    if not isinstance(value, kind):
        raise TypeError(value)
    return value
