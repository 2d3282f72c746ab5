"""Corrections of the sheet as the page sends them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from profiler.errors import GreytareError, SheetError
from profiler.web.page import sentence
from profiler.web.series.cells import Edit, SheetCells, checked_cells

_MOST_LINES = 5000


def read_edits(lines: Sequence[dict[str, Any]]) -> list[Edit]:
    """Return the edits in `lines`: each has row (number or null), file, values by column."""
    if len(lines) > _MOST_LINES:
        raise SheetError("these are too many rows", "sheet", "Correct fewer at a time")
    return [_edit(line) for line in lines]


def checked(cells: SheetCells, files: Sequence[str]) -> tuple[str, str]:
    """Return the first fault of a sheet in one sentence, and what was assumed about its names."""
    if not cells.rows:
        return "", ""
    try:
        return "", checked_cells(cells, files)[1]
    except GreytareError as error:
        return sentence(error), ""


def _edit(line: dict[str, Any]) -> Edit:
    row, file, values = line.get("row"), line.get("file"), line.get("values")
    sound = (
        (row is None or type(row) is int)
        and isinstance(file, str)
        and bool(file)
        and isinstance(values, dict)
        and all(isinstance(text, str) for text in values.values())
    )
    if not sound or not isinstance(file, str) or not isinstance(values, dict):
        raise SheetError("the page sent a row that makes no sense", "sheet", "Load the page again")
    return Edit(row=row, file=file, values=values)
