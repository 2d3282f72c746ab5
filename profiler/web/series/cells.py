"""The sheet as cells that can be edited one by one, everything else kept as it stands."""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final

from profiler.errors import SheetError
from profiler.files.csv_text import plain_cell, read_csv, safe_cell
from profiler.files.regular import meant, read_bytes
from profiler.files.sheet import COLUMNS, EVERY_FILE, Sheet, check_files, named_as, parse_sheet

EDITABLE: Final = ("reading", "mode", "use", "iso", "time", "aperture", "note")
_LONGEST_CELL: Final = 500


@dataclass(frozen=True, kw_only=True)
class Edit:
    """New texts for some columns of one row; row None appends one for the file."""

    row: int | None
    file: str
    values: Mapping[str, str]


@dataclass(frozen=True, kw_only=True)
class SheetCells:
    """A sheet as written: header, rows, line of the file that each row ends on; "" version: none.

    version: SHA-256 of the file, so that a change by another program is noticed. source: the text
    as it was read, empty once a cell has been edited. notice: what was assumed about its encoding.
    """

    name: str
    columns: tuple[str, ...] = COLUMNS
    rows: tuple[tuple[str, ...], ...] = ()
    lines: tuple[int, ...] = ()
    delimiter: str = ","
    newline: str = "\n"
    encoding: str = "utf-8"
    version: str = field(default="", compare=False)
    source: str = field(default="", repr=False, compare=False)
    notice: str = field(default="", compare=False)

    def cell(self, row: int, column: str) -> str:
        """Return a cell, empty where the row or the header doesn't reach so far."""
        names = [name.strip().lower() for name in self.columns]
        if column not in names:
            return ""
        at = names.index(column)
        cells = self.rows[row]
        return plain_cell(cells[at].strip()) if at < len(cells) else ""

    def rows_by_file(self, files: Sequence[str]) -> dict[str, list[int]]:
        """Return file -> the rows that name it, in their order; spelled otherwise counts too."""
        found: dict[str, list[int]] = {}
        for i in range(len(self.rows)):
            name = self.cell(i, "file")
            found.setdefault(meant(name, files) or name, []).append(i)
        return found

    def text(self) -> str:
        """Return the CSV, without the mark that some programs put before UTF-8."""
        if self.source:
            return self.source
        out = io.StringIO(newline="")
        writer = csv.writer(out, delimiter=self.delimiter, lineterminator=self.newline)
        writer.writerow(self.columns)
        writer.writerows(self.rows)
        return out.getvalue()

    def content(self) -> bytes:
        """Return the bytes to write, in the file's own encoding where it has all the letters."""
        try:
            return self.text().encode(self.encoding)
        except UnicodeEncodeError:
            return self.text().encode("utf-8-sig")


def read_cells(path: Path) -> SheetCells:
    """Return the cells of a sheet; an empty one with our columns where there is no file yet."""
    try:
        version = hashlib.sha256(read_bytes(path)).hexdigest()
        found = read_csv(path, SheetError, "Give a CSV file")
    except FileNotFoundError:
        return SheetCells(name=path.name)
    except OSError as error:
        raise SheetError(
            f"the sheet can't be read ({error.strerror})", path.name, "Give a CSV file"
        ) from error
    if not found.text.strip():
        return SheetCells(name=path.name, version=version)
    return SheetCells(
        name=path.name,
        columns=found.header,
        rows=tuple(cells for _, cells in found.rows),
        lines=tuple(line for line, _ in found.rows),
        delimiter=found.delimiter,
        newline=found.newline,
        encoding=found.encoding,
        version=version,
        source=found.text,
        notice=found.notice,
    )


def edit_cells(cells: SheetCells, edits: Sequence[Edit]) -> tuple[SheetCells, list[int]]:
    """Return the sheet with the edits made, and the row of each of them."""
    columns = list(cells.columns)
    rows = [list(row) for row in cells.rows]
    touched = []
    for edit in edits:
        if edit.row is None:
            if edit.file != EVERY_FILE and cells.rows_by_file([edit.file]).get(edit.file):
                raise _other_rows(cells)
            rows.append([])
            touched.append(len(rows) - 1)
            _put(rows[-1], columns, "file", edit.file)
        elif 0 <= edit.row < len(cells.rows) and meant(cells.cell(edit.row, "file"), [edit.file]):
            touched.append(edit.row)
        else:
            raise _other_rows(cells)
        for column, text in edit.values.items():
            if column not in EDITABLE:
                raise SheetError(
                    "this column isn't edited here", column, "Edit it in a spreadsheet"
                )
            if len(text) > _LONGEST_CELL or any(ord(letter) < 32 for letter in text):
                raise SheetError("the text isn't a cell", column, "Write what the meter showed")
            _put(rows[touched[-1]], columns, column, text.strip())
    whole = tuple(tuple(row) for row in rows)
    return replace(cells, columns=tuple(columns), rows=whole, source=""), touched


def _other_rows(cells: SheetCells) -> SheetError:
    return SheetError(
        "the sheet has other rows than this page shows",
        cells.name,
        "Load the page again, then type the change once more",
    )


def check_cells(cells: SheetCells, files: Sequence[str]) -> Sheet:
    """Return the sheet as it will be read, every row checked, files spelled as they are."""
    return checked_cells(cells, files)[0]


def checked_cells(cells: SheetCells, files: Sequence[str]) -> tuple[Sheet, str]:
    """Return the sheet as it will be read, and what was assumed about the names in it."""
    sheet = parse_sheet(cells.text(), cells.name)
    check_files(sheet, files)
    return named_as(sheet, files)


def _put(row: list[str], columns: list[str], name: str, text: str) -> None:
    """Writes a cell, with a new column at the end where the header lacks it."""
    names = [column.strip().lower() for column in columns]
    if name not in names:
        if not text:
            return
        columns.append(name)
        names.append(name)
    at = names.index(name)
    row += [""] * (at + 1 - len(row))
    row[at] = safe_cell(text)


_MOST_LINES = 5000


def read_edits(lines: Sequence[dict[str, Any]]) -> list[Edit]:
    """Return the edits in `lines`: each has row (number or null), file, values by column."""
    if len(lines) > _MOST_LINES:
        raise SheetError("these are too many rows", "sheet", "Correct fewer at a time")
    return [_edit(line) for line in lines]


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
