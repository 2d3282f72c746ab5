"""The command `measure`."""

from __future__ import annotations

from pathlib import Path

import click

from profiler.cli import options
from profiler.cli.series import SERIES, measured, sheet_of, usual_sheet
from profiler.records import MODES


@options.example("greytare measure window-card --preview patch.png --out levels.csv")
@click.command()
@SERIES
@options.sheet
@click.option(
    "--new-sheet",
    type=options.EXISTING_PATH,
    metavar="SHEET.csv",
    help="Write a sheet with the files and what they say of themselves, and measure nothing.",
)
@click.option(
    "--out", type=options.EXISTING_PATH, metavar="TABLE.csv", help="Write the table here."
)
@options.patch
@options.preview
@options.allow_8bit
@options.replace
@options.as_json
def measure(
    series: Path,
    sheet_path: Path | None,
    new_sheet: Path | None,
    out: Path | None,
    patch: str,
    preview: Path | None,
    allow_8bit: bool,
    replace: bool,
    as_json: bool,
) -> None:
    """Measure the grey patch in every raw frame of the folder SERIES.

    The table has one row per frame and channel: mean, variance, clipped share and more. Frames
    that were measured before come from a cache.
    """
    from profiler.files.atomic import check_output, write_whole
    from profiler.files.level_table import write_table
    from profiler.show.calibration.result import flag_words

    if new_sheet is not None:
        text, missing = _new_sheet(series)
        options.say_kept(write_whole(new_sheet, text, replace=replace))
        also = f" The files don't give the {missing}: fill that in too." if missing else ""
        named = "" if new_sheet == usual_sheet(series) else f" --sheet {new_sheet}"
        click.echo(
            f"Sheet written to {new_sheet}. In its row for * fill in the reading and its mode "
            f"({', '.join(MODES)}); write dark as the reading of frames with the lens cap on."
            f"{also} Then: greytare fit {series}{named} --out BODY.profile.json"
        )
        return
    if out is not None:
        check_output(out, replace=replace)
    if preview is not None:
        check_output(preview, replace=True)
    sheet = sheet_of(series, sheet_path)
    measurement = measured(series, sheet, patch, allow_8bit=allow_8bit, preview=preview)
    for flag in measurement.lost:
        click.echo(flag_words(flag), err=True)
    if as_json:
        options.print_json(measurement)
    text = write_table(measurement)
    if out is not None:
        options.say_kept(write_whole(out, text, replace=replace))
        click.echo(
            f"{len(measurement.frames)} frames measured ({measurement.decoded} decoded), "
            f"table in {out}",
            err=True,
        )
    elif not as_json:
        click.echo(text, nl=False)


def _new_sheet(series: Path) -> tuple[str, str]:
    """Return a sheet of what the files say, and which fields no file gives."""
    from profiler.calibration.exposures import describe_missing, join
    from profiler.files.sheet import EVERY_FILE, Sheet, exposure_cells, new_sheet
    from profiler.frames.cache import MeasureCache, read_all_tags
    from profiler.frames.folder import list_frames

    paths = list_frames(series)
    cache = MeasureCache()
    try:
        tags = read_all_tags(paths, cache)
    finally:
        cache.close()
    blank = Sheet(name="", columns=())
    told = [join(blank, p.name, t) for p, t in zip(paths, tags, strict=True)]
    rows = [{"file": EVERY_FILE}]
    rows += [{"file": e.file} | exposure_cells(e.iso, e.time_s, e.f_number) for e in told]
    return new_sheet(rows), describe_missing(told, as_lit=True)
