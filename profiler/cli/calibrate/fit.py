"""The command `fit`."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING

import click

from profiler.cli import options
from profiler.cli.series import SERIES, measured, needed_sheet

if TYPE_CHECKING:
    from profiler.files.sheet import Sheet
    from profiler.records import Measurement


_SHOWN = 20


@options.example("greytare fit window-card --light daylight --out halden.profile.json")
@click.command()
@SERIES
@options.sheet
@click.option(
    "--out",
    type=options.EXISTING_PATH,
    metavar="BODY.profile.json",
    help="Where to write the profile.",
)
@click.option(
    "--verify",
    type=options.EXISTING_PATH,
    metavar="BODY.profile.json",
    help="Measure and fit again as this profile says, write nothing, and tell what differs.",
)
@options.light
@options.aim
@options.meter
@options.times
@click.option("--plot", type=options.EXISTING_PATH, metavar="FILE.png", help="Draw the result.")
@options.patch
@options.preview
@options.allow_8bit
@options.replace
@options.as_json
def fit(
    series: Path,
    sheet_path: Path | None,
    out: Path | None,
    verify: Path | None,
    light: str,
    aim: str,
    meter: Path | None,
    times: str,
    plot: Path | None,
    patch: str,
    preview: Path | None,
    allow_8bit: bool,
    replace: bool,
    as_json: bool,
) -> None:
    """Fit SERIES, a folder of raw frames or a measured table, and write the profile."""
    if (out is None) == (verify is None):
        raise click.UsageError("Give one of --out and --verify.")
    from profiler.calibration import pipeline
    from profiler.exposure.aims import parse_aim
    from profiler.files.atomic import check_output
    from profiler.files.profile import profile_json, save_profile
    from profiler.show.calibration.profile import describe

    aim_stops = parse_aim(aim)
    known = options.meter_in(meter)
    if out is not None:
        check_output(out, replace=replace)
    for picture in (plot, preview):
        if picture is not None:
            check_output(picture, replace=True)
    sheet = needed_sheet(series, sheet_path)
    measurement = measured(series, sheet, patch, allow_8bit=allow_8bit, preview=preview)
    if verify is not None:
        _verify(verify, measurement, sheet, times, as_json)
        return
    profile = pipeline.fit(measurement, sheet, light=light, aim=aim_stops, meter=known, times=times)
    if out is not None:
        options.say_kept(save_profile(profile, out, replace=replace))
    if plot is not None:
        from profiler.show.plots import save_overview

        save_overview(profile, plot)
    if as_json:
        click.echo(profile_json(profile), nl=False)
    else:
        click.echo(describe(profile, details=False, width=options.line_width()))
    click.echo(f"Profile written to {out}", err=True)
    if not as_json:
        click.echo(f"What it rests on: greytare show {shlex.quote(str(out))} --details", err=True)


def _verify(path: Path, measurement: Measurement, sheet: Sheet, times: str, as_json: bool) -> None:
    """Fit as a profile was fitted, and tell what differs; exit code 1 where anything does."""
    from dataclasses import asdict

    from profiler.calibration import pipeline
    from profiler.files.differences import differences
    from profiler.files.profile import load_profile
    from profiler.records import Meter

    before = load_profile(path)
    result = before.results[0]
    after = pipeline.fit(
        measurement,
        sheet,
        light=result.light,
        aim=result.aim_stops,
        meter=Meter(**vars(before.meter)),
        times=times,
    )
    found = differences(before, after)
    if as_json:
        options.print_json({"same": not found, "differences": [asdict(each) for each in found]})
    elif not found:
        click.echo(f"The same numbers as in {path}, from the same files.")
    else:
        click.echo(f"{len(found)} fields differ from {path}:")
        for each in found[:_SHOWN]:
            click.echo(f"  {each.field}: {each.before!r} there, {each.after!r} now")
        if len(found) > _SHOWN:
            click.echo(f"  ... {len(found) - _SHOWN} more; --json lists all")
    if found:
        raise click.exceptions.Exit(1)
