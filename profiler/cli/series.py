"""A series as commands take it: its folder or table, its sheet, its frames measured."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from profiler.cli import options, progress
from profiler.errors import FrameError, SheetError
from profiler.files.regular import no_folder
from profiler.frames.folder import is_frame_name

if TYPE_CHECKING:
    from profiler.files.sheet import Sheet
    from profiler.records import Measurement

SERIES = click.argument("series", type=options.EXISTING_PATH)
ELECTRONIC = click.option(
    "--electronic-shutter",
    is_flag=True,
    help="The frames were taken with an electronic shutter, so that their times are exact.",
)
TIMES = click.option(
    "--times",
    type=click.Choice(["exact", "as-marked"]),
    default="exact",
    show_default=True,
    help="What a marked time such as 1/60 stands for, where several were used.",
)


def sheet_of(series: Path, path: Path | None) -> Sheet | None:
    """Return the sheet at a path, else the series' own sheet.csv, None where it has none."""
    from profiler.files.sheet import read_sheet

    if path is None:
        path = usual_sheet(series)
        if not path.exists():
            return None
    return read_sheet(path, options.tell)


def needed_sheet(series: Path, path: Path | None) -> Sheet:
    """Return the sheet of a series; SheetError says how to write one where there is none."""
    _check(series)
    sheet = sheet_of(series, path)
    if sheet is not None:
        return sheet
    raise SheetError(
        "the series has no sheet.csv",
        str(series),
        f"Write one with: greytare measure {series} --new-sheet {usual_sheet(series)}",
    )


def measured(
    series: Path,
    sheet: Sheet | None,
    patch: str,
    *,
    allow_8bit: bool = False,
    preview: Path | None = None,
) -> Measurement:
    """Return the measured frames of a folder, or those of a table."""
    from profiler.calibration import pipeline
    from profiler.files.level_table import read_table
    from profiler.files.sheet import named_as
    from profiler.frames.folder import pictures_in
    from profiler.show.calibration.frames import pictures_words

    _check(series)
    if series.is_file():
        found = read_table(series, options.tell)
    else:
        with progress.frame_bar("measuring") as update:
            found = pipeline.measure(
                series, sheet, patch=patch, allow_8bit=allow_8bit, preview=preview, progress=update
            )
        if left := pictures_in(series):
            options.tell(pictures_words(left))
    if sheet is not None:
        _, notice = named_as(sheet, [frame.file for frame in found.frames])
        if notice:
            options.tell(notice)
    return found


def _check(series: Path) -> None:
    """Raise FrameError where the path leads to nothing that could be a series."""
    mend = "Give the folder that holds the raw frames"
    if not (series.is_dir() or series.is_file()):
        raise FrameError(no_folder(series), str(series), mend)
    if series.is_file() and is_frame_name(series.name):
        raise FrameError("this is one frame, not a series", str(series), mend)


def usual_sheet(series: Path) -> Path:
    """Return where a series has its own sheet."""
    return (series if series.is_dir() else series.parent) / "sheet.csv"
