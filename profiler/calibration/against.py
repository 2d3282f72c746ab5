"""Where a sheet says something else of a frame than its file; the sheet's value counts."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from profiler import standards
from profiler.exposure.wording import format_f_number, format_time

if TYPE_CHECKING:
    from profiler.files.sheet import SheetRow


@dataclass(frozen=True, kw_only=True)
class Against:
    """One cell of the sheet that differs from a file by more than a third of a stop.

    size_ev: how much more light, or ISO label, the sheet states than the file.
    """

    row: int
    column: str
    sheet: str
    file: str
    said: str
    size_ev: float


def against_file(
    rows: Sequence[SheetRow], file: str, said: Mapping[str, float | None]
) -> tuple[Against, ...]:
    """Return where the rows that count for a frame differ from what its file says.

    said: iso, time (s) and aperture of the file, None where it is silent. A T-stop is held against
    the f-number, above which it may lie by what a lens loses.
    """
    found: dict[str, Against] = {}
    for row in rows:
        for column, value in (
            ("iso", row.iso),
            ("time", row.time_s),
            ("aperture", row.aperture),
            ("t_stop", row.t_stop),
        ):
            theirs = said["aperture" if column == "t_stop" else column]
            if value is None or theirs is None:
                continue
            stops = math.log2(value / theirs)
            size = -2.0 * stops if column in ("aperture", "t_stop") else stops
            most = standards.SHEET_AGAINST_FILES_EV
            low = -standards.T_STOP_LOSS_EV if column == "t_stop" else -most
            found.pop(column, None)  # a frame's own row goes before the one for all
            if not low <= size <= most:
                found[column] = Against(
                    row=row.line,
                    column=column,
                    sheet=_written(column, value),
                    file=file,
                    said=_written("aperture" if column == "t_stop" else column, theirs),
                    size_ev=size,
                )
    return tuple(found.values())


def largest(found: Iterable[Against]) -> list[tuple[Against, str]]:
    """Return the largest difference of each column, with the words for it.

    `row 2, aperture: f/56 stands in the sheet, f/5.6 in the files`.
    """
    by_column: dict[str, list[Against]] = {}
    for each in found:
        by_column.setdefault(each.column, []).append(each)
    out = []
    for several in by_column.values():
        one = max(several, key=lambda each: abs(each.size_ev))
        same = len(several) > 1 and len({each.said for each in several}) == 1
        where = "the files" if same else one.file
        words = (
            f"row {one.row}, {one.column}: {one.sheet} stands in the sheet, {one.said} in {where}"
        )
        out.append((one, words))
    return out


def _written(column: str, value: float) -> str:
    if column == "time":
        return format_time(value)
    if column == "iso":
        return f"ISO {value:g}"
    return format_f_number(value) if column == "aperture" else f"T{value:g}"
