"""Rows of the fleet's table as CSV text, the same byte for byte wherever they come from."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from profiler.errors import ProfileError
from profiler.files.csv_text import read_csv, safe_cell
from profiler.fleet.columns import TEXTS, Rows
from profiler.fleet.rows import COLUMNS, KINDS, Row

_BLOCK: Final = 25_000
"""Rows that are made text at once, so that memory holds no more."""
_SPECIAL: Final = re.compile(r'[,"\r\n]')


def rows_csv(rows: Sequence[Row]) -> str:
    """Return the table as CSV text, sorted; numbers keep all their digits, so that it reads back.

    Nothing in it depends on when or where the run took place.
    """
    table = Rows.of(rows).sorted()
    blocks = (table[first : first + _BLOCK] for first in range(0, len(table), _BLOCK))
    return "".join([",".join(COLUMNS) + "\n", *map(_lines, blocks)])


def _lines(table: Rows) -> str:
    import pyarrow as pa
    import pyarrow.compute as pc

    columns = []
    for name in COLUMNS:
        if name in TEXTS:
            text = table.text(name)
            columns.append(_looked_up(text.codes, [_quoted(value) for value in text.values]))
        elif KINDS[name] == "bool":
            columns.append(_looked_up(table.number(name).astype("int32"), ["no", "yes"]))
        else:
            columns.append(pa.array(table.number(name), from_pandas=True).cast(pa.utf8()))
    lines = pc.binary_join_element_wise(*columns, ",", null_handling="replace", null_replacement="")
    return "\n".join([*lines.to_pylist(), ""])


def _looked_up(codes: Any, values: list[str]) -> Any:
    import pyarrow as pa

    return pa.DictionaryArray.from_arrays(codes, pa.array(values, pa.utf8())).cast(pa.utf8())


def _quoted(text: str) -> str:
    """A cell as RFC 4180 has it: in quotation marks where it holds a comma, one of them, a line."""
    safe = safe_cell(text)
    return '"' + safe.replace('"', '""') + '"' if _SPECIAL.search(safe) else safe


def read_rows_csv(path: Path) -> list[Row]:
    """Return the rows of a CSV written by rows_csv; ProfileError names row and column."""
    mend = "Give a CSV written by: {greytare fleet}"
    found = read_csv(path, ProfileError, mend, what="table")
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
