"""CSV files as spreadsheets of all countries write them."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from profiler.errors import GreytareError
from profiler.files.regular import read_bytes

DELIMITERS: Final = ",;\t"
_MARKS: Final = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_FORMULA: Final = re.compile(r"'*[=+\-@\t\r]")
Tell = Callable[[str], None]


@dataclass(frozen=True, kw_only=True)
class CsvText:
    """A CSV as written: header, then each row with the line of the file that it ends on.

    encoding: as Python calls it. notice: what was assumed about the text, empty for nothing.
    """

    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    delimiter: str
    newline: str
    text: str
    encoding: str = "utf-8"
    notice: str = ""

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of the columns in small letters."""
        return tuple(name.strip().lower() for name in self.header)

    def records(self) -> Iterator[tuple[int, dict[str, str]]]:
        """Yield line and column -> trimmed cell, blank rows left out and short ones filled up."""
        names = self.columns
        for line, cells in self.rows:
            trimmed = [plain_cell(cell.strip()) for cell in cells]
            if any(trimmed):
                trimmed += [""] * (len(names) - len(trimmed))
                yield line, dict(zip(names, trimmed, strict=False))


def safe_cell(text: str) -> str:
    """Return a text so that no spreadsheet takes it for a formula; plain_cell gives it back.

    An apostrophe goes before texts that begin with = + - @ (OWASP, CSV injection) and aren't
    numbers, and before those that look as if that had been done to them.

    >>> safe_cell("=1+1"), safe_cell("-0.5"), safe_cell("'=x"), safe_cell("'old'")
    ("'=1+1", '-0.5', "''=x", "'old'")
    """
    return f"'{text}" if _FORMULA.match(text) and not _is_number(text) else text


def plain_cell(text: str) -> str:
    """Return the text that safe_cell, or a spreadsheet that shows a text as text, has made.

    >>> plain_cell("'=1+1"), plain_cell("'old'")
    ('=1+1', "'old'")
    """
    return text[1:] if text.startswith("'") and _FORMULA.match(text[1:]) else text


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def read_csv(
    path: Path,
    kind: type[GreytareError],
    mend: str,
    *,
    what: str = "file",
    write: str = "",
    tell: Tell | None = None,
) -> CsvText:
    """Return the CSV at `path`; an error of `kind` says how to mend it.

    what: names it where there is none; write: how to make one, `mend` where nothing is said. tell:
    called with what was assumed about its encoding, where something was.

    UTF-8, or UTF-16 behind its byte order mark; anything else is taken for Windows-1252, with a
    notice. Commas, semicolons or tabs: what stands most often in the header row.
    """
    try:
        text, encoding = decode(read_bytes(path))
    except FileNotFoundError as error:
        raise kind(f"there is no such {what}", str(path), write or mend) from error
    except UnicodeDecodeError as error:
        raise kind("it isn't text", str(path), "Save it as CSV with UTF-8 encoding") from error
    except OSError as error:
        raise kind(f"it can't be read ({error.strerror})", str(path), mend) from error
    found = parse_csv(text, path.name, kind, encoding)
    if found.notice and tell is not None:
        tell(found.notice)
    return found


def parse_csv(text: str, name: str, kind: type[GreytareError], encoding: str = "utf-8") -> CsvText:
    """Return the CSV in `text`; an error of `kind` names the row with odd quotation marks."""
    header = text.partition("\n")[0]
    delimiter = max(DELIMITERS, key=header.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        rows = [(reader.line_num, tuple(cells)) for cells in reader]
    except csv.Error as error:
        raise kind(
            f"row {reader.line_num} isn't valid CSV ({error})", name, "Check its quotation marks"
        ) from error
    notice = ""
    if encoding == "cp1252":
        notice = (
            f"{name}: it isn't UTF-8, so it was read as Windows-1252; check its special letters"
        )
    return CsvText(
        header=rows[0][1] if rows else (),
        rows=tuple(rows[1:]),
        delimiter=delimiter,
        newline="\r\n" if "\r\n" in text else "\n",
        text=text,
        encoding=encoding,
        notice=notice,
    )


def decode(data: bytes) -> tuple[str, str]:
    """Return the text and its encoding; UnicodeDecodeError where it isn't text.

    >>> decode("Größe".encode("cp1252"))
    ('Größe', 'cp1252')
    """
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return data.decode(encoding), encoding
    if b"\0" in data:
        raise UnicodeDecodeError("utf-8", data, data.index(b"\0"), data.index(b"\0") + 1, "null")
    try:
        return data.decode("utf-8"), "utf-8"
    except UnicodeDecodeError:
        return data.decode("cp1252"), "cp1252"
