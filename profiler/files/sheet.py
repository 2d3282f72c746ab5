"""The sheet: what the meter showed, with corrections to what the files say."""

from __future__ import annotations

import csv
import difflib
import hashlib
import io
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from profiler import standards
from profiler.errors import GreytareError, SheetError
from profiler.files.csv_text import CsvText, Tell, parse_csv, read_csv, safe_cell
from profiler.files.regular import meant
from profiler.records import MODES

if TYPE_CHECKING:
    from profiler.exposure.readings import Reading

COLUMNS = (
    "file",
    "reading",
    "mode",
    "iso",
    "time",
    "aperture",
    "t_stop",
    "nd_stops",
    "use",
    "note",
)
OPTIONAL_COLUMNS = ("magnification", "cfa", "lens")
EVERY_FILE = "*"


@dataclass(frozen=True, kw_only=True)
class SheetRow:
    """One row: which file, the reading as typed and as understood, corrections; None is silent."""

    line: int
    file: str
    reading_text: str = ""
    reading: Reading | None = None
    mode: str = ""
    iso: int | None = None
    time_s: float | None = None
    aperture: float | None = None
    t_stop: float | None = None
    nd_stops: float | None = None
    magnification: float | None = None
    use: bool | None = None
    cfa: str = ""
    lens: str = ""
    note: str = ""

    @property
    def dark(self) -> bool:
        """Whether the row marks a frame taken under the lens cap."""
        return self.reading is not None and self.reading.is_dark


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """All rows of a sheet, with the columns as they stood."""

    name: str
    columns: tuple[str, ...]
    sha256: str = ""
    rows: tuple[SheetRow, ...] = field(default_factory=tuple)

    def of(self, file: str) -> tuple[SheetRow, ...]:
        """Rows that speak of `file`: those for every file first, its own last (they win)."""
        general = tuple(row for row in self.rows if row.file == EVERY_FILE)
        return general + tuple(row for row in self.rows if row.file == file)


def read_sheet(path: Path, tell: Tell | None = None) -> Sheet:
    """Return the sheet at `path`; SheetError names file, row and column of what is wrong.

    tell: called with what was assumed about the file's encoding, where something was.
    """
    found = read_csv(
        path,
        SheetError,
        "Give a CSV file",
        what="sheet",
        write="Write one with: {new_sheet}",
        tell=tell,
    )
    return _sheet(found, path.name)


def parse_sheet(text: str, name: str) -> Sheet:
    """Return the sheet in `text`, a CSV with commas, semicolons or tabs and a header row."""
    return _sheet(parse_csv(text, name, SheetError), name)


def _sheet(found: CsvText, name: str) -> Sheet:
    columns = found.columns
    if not columns:
        raise SheetError(
            "the sheet is empty", name, f"Its first row names {', '.join(COLUMNS[:3])}"
        )
    _check_columns(columns, name)
    for line, cells in found.rows:
        if any(cell.strip() for cell in cells[len(columns) :]):
            raise SheetError(
                f"{len(cells)} cells under {len(columns)} columns",
                f"{name}, row {line}",
                "Put cells that hold a comma in quotation marks",
            )
    rows = tuple(_row(cells, line, name) for line, cells in found.records())
    digest = hashlib.sha256(found.text.encode()).hexdigest()
    return Sheet(name=name, columns=columns, sha256=digest, rows=rows)


def named_as(sheet: Sheet, files: Iterable[str]) -> tuple[Sheet, str]:
    """Return the sheet with its names spelled as the files are, and what that changed, if anything.

    A name may differ from its file's in case or in its Unicode form.
    """
    known = list(files)
    rows, other = [], []
    for row in sheet.rows:
        file = row.file if row.file == EVERY_FILE else meant(row.file, known) or row.file
        if file != row.file:
            other.append(row.file)
        rows.append(replace(row, file=file))
    if not other:
        return sheet, ""
    told = f"names in {sheet.name} are taken for files that are spelled otherwise: {_some(other)}"
    return replace(sheet, rows=tuple(rows)), told


def check_files(sheet: Sheet, files: Iterable[str]) -> None:
    """Raise SheetError where a row names a file that is not in the series."""
    known = sorted(files)
    for row in sheet.rows:
        if row.file != EVERY_FILE and meant(row.file, known) is None:
            near = difflib.get_close_matches(row.file, known, n=1)
            hint = f"Perhaps {near[0]} is meant" if near else f"The series holds {_some(known)}"
            raise SheetError(
                f"there is no file {row.file!r} in the series",
                f"{sheet.name}, row {row.line}, column file",
                hint,
            )


def new_sheet(rows: Sequence[dict[str, str]]) -> str:
    """Return the text of a sheet with the given cells (column -> text) and empty readings."""
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, fieldnames=COLUMNS, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows({k: safe_cell(v) for k, v in row.items()} for row in rows)
    return out.getvalue()


def exposure_cells(iso: int | None, time_s: float | None, f_number: float | None) -> dict[str, str]:
    """Return the cells of what a file says of its exposure, six figures; empty where it doesn't."""
    time = "" if time_s is None else f"{time_s:.6g}"
    if time_s is not None and time_s < 0.29:
        time = f"1/{1.0 / time_s:.6g}"
    return {
        "iso": "" if iso is None else str(iso),
        "time": time,
        "aperture": "" if f_number is None else f"{f_number:.6g}",
    }


def _check_columns(columns: tuple[str, ...], name: str) -> None:
    if "file" not in columns:
        near = difflib.get_close_matches("file", columns, n=1)
        raise SheetError(
            f"the header row has no column 'file' (it has {_some(columns)})",
            name,
            f"Rename the column {near[0]!r}" if near else f"The columns are {', '.join(COLUMNS)}",
        )
    twice = {column for column in columns if column and columns.count(column) > 1}
    if twice:
        raise SheetError(
            f"the column {min(twice)!r} stands twice", name, "Keep one column of each name"
        )
    for column in columns:
        near = difflib.get_close_matches(column, COLUMNS, n=1, cutoff=0.8)
        if near and column not in COLUMNS and near[0] not in columns:
            raise SheetError(
                f"the column {column!r} is not known",
                name,
                f"Call it {near[0]!r} if that is what it holds",
            )


def _row(cells: dict[str, str], line: int, name: str) -> SheetRow:
    from profiler.exposure.readings import parse_reading

    def where(column: str) -> str:
        return f"{name}, row {line}, column {column}"

    file = cells.get("file", "")
    if not file:
        raise SheetError("the cell is empty", where("file"), "Name a file, or * for all of them")
    text, mode = cells.get("reading", ""), cells.get("mode", "").lower()
    reading = None
    if text:
        try:
            reading = parse_reading(text)
        except GreytareError as error:
            raise SheetError(error.what, where("reading"), error.mend) from error
    if mode and mode not in MODES:
        raise SheetError(
            f"{mode!r} isn't a meter mode", where("mode"), f"Use one of {', '.join(MODES)}"
        )
    if reading is not None and not reading.is_dark and not mode:
        raise SheetError("the reading has no mode", where("mode"), f"Use one of {', '.join(MODES)}")
    return SheetRow(
        line=line,
        file=file,
        reading_text=text,
        reading=reading,
        mode=mode,
        iso=_iso(cells.get("iso", ""), where("iso")),
        time_s=_time(cells.get("time", ""), where("time")),
        aperture=_number(
            cells.get("aperture", ""), where("aperture"), "8 or f/8", "f", standards.F_NUMBER_RANGE
        ),
        t_stop=_number(
            cells.get("t_stop", ""), where("t_stop"), "2.9 or T2.9", "t", standards.F_NUMBER_RANGE
        ),
        nd_stops=_number(
            cells.get("nd_stops", ""), where("nd_stops"), "3 (stops)", "", (-1.0, 30.0)
        ),
        magnification=_number(
            cells.get("magnification", ""), where("magnification"), "0.1", "", (0.0, 10.0)
        ),
        use=_yes_no(cells.get("use", ""), where("use")),
        cfa=cells.get("cfa", "").upper(),
        lens=" ".join(cells.get("lens", "").split()),
        note=cells.get("note", ""),
    )


def _number(
    text: str, where: str, example: str, prefix: str, ends: tuple[float, float]
) -> float | None:
    if not text:
        return None
    bare = text.lower().removeprefix(prefix).removeprefix("/").strip().replace(",", ".")
    try:
        value = float(bare)
    except ValueError:
        value = math.nan
    if not ends[0] <= value <= ends[1]:
        raise SheetError(f"{text!r} isn't a usable value", where, f"Write for example {example}")
    return value


def _iso(text: str, where: str) -> int | None:
    value = _number(text, where, "400", "iso", standards.ISO_RANGE)
    if value is None:
        return None
    if value != int(value):
        raise SheetError(f"{text!r} isn't an ISO label", where, "Write a whole number such as 400")
    return int(value)


def _time(text: str, where: str) -> float | None:
    if not text:
        return None
    bare = text.lower().removesuffix("sec").removesuffix("s").removesuffix('"').strip()
    over, slash, under = bare.replace(",", ".").partition("/")
    try:
        value = float(over) / float(under) if slash else float(over)
    except (ValueError, ZeroDivisionError):
        value = math.nan
    if not standards.TIME_RANGE_S[0] <= value <= standards.TIME_RANGE_S[1]:
        raise SheetError(
            f"{text!r} isn't a shutter time", where, "Write for example 1/60, 0.5 or 2 (seconds)"
        )
    return value


def _yes_no(text: str, where: str) -> bool | None:
    if not text:
        return None
    answer = {"yes": True, "y": True, "1": True, "no": False, "n": False, "0": False}
    if text.lower() not in answer:
        raise SheetError(f"{text!r} is neither yes nor no", where, "Write yes or no")
    return answer[text.lower()]


def _some(names: Sequence[str]) -> str:
    shown = ", ".join(names[:4])
    return shown + (f" and {len(names) - 4} more" if len(names) > 4 else "")
