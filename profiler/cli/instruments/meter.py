"""The command `meter`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from profiler.cli import onset_options, options
from profiler.cli.series import (
    ELECTRONIC,
    SERIES,
    TIMES,
    measured,
    needed_sheet,
)
from profiler.records import MODES

if TYPE_CHECKING:
    from profiler.calibration.instruments.meter import MeterCheck, MetersCompared
    from profiler.records import Measurement


@options.example("greytare meter lamp-walk --out sprig.toml --plot sprig.png")
@click.command()
@SERIES
@options.sheet
@click.option("--out", type=options.EXISTING_PATH, metavar="METER.toml", help="Write it here.")
@click.option("--mode", type=click.Choice(MODES), help="Needed if several were read.")
@click.option(
    "--meter",
    "meter_path",
    type=options.EXISTING_PATH,
    metavar="METER.toml",
    help="What is known of the meter: name, constants, step of its display.",
)
@click.option(
    "--against",
    type=options.EXISTING_PATH,
    metavar="SHEET.csv",
    help="Another meter's readings of the same frames: how the two differ over level.",
)
@ELECTRONIC
@TIMES
@click.option("--plot", type=options.EXISTING_PATH, metavar="FILE.png", help="Draw it.")
@options.patch
@options.replace
@options.as_json
def meter(
    series: Path,
    sheet_path: Path | None,
    out: Path | None,
    meter_path: Path | None,
    against: Path | None,
    plot: Path | None,
    patch: str,
    replace: bool,
    as_json: bool,
    **asked: Any,
) -> None:
    """Measure a handheld meter by the frames of SERIES: is it straight, how does it repeat?

    Shoot the card at many light levels (move the lamp, or put filters before it), half a stop or
    more apart, two frames or more at each, one aperture and time; read the meter at each level
    two or three times. In the sheet, each row with a reading is a reading taken anew; a frame
    without one stands in the light of the frame before it. Two frames with the lens cap on give
    black.
    """
    from profiler.calibration.instruments.meter import check_meter, compare_meters
    from profiler.files.atomic import check_output
    from profiler.files.sheet import read_sheet
    from profiler.show.instruments import meter_answer, meters_answer
    from profiler.show.plots.linearity import save_meter

    if out is not None:
        check_output(out, replace=replace)
    if plot is not None:
        check_output(plot, replace=True)
    known = options.meter_in(meter_path)
    sheet = needed_sheet(series, sheet_path)
    measurement = measured(series, sheet, patch)
    one: MeterCheck
    found: MeterCheck | MetersCompared
    if against is None:
        found = one = check_meter(measurement, sheet, meter=known, **asked)
        answer = meter_answer(one)
    else:
        other = read_sheet(against, options.tell)
        found = compare_meters(measurement, sheet, other, meter=known, **asked)
        one, answer = found.one, meters_answer(found)
    _write(out, one, measurement, replace)
    if plot is not None:
        save_meter(found, plot)
    onset_options.tell(found, lambda: answer, as_json)


def _write(out: Path | None, found: MeterCheck, measurement: Measurement, replace: bool) -> None:
    """Write the meter's file, where one is wanted."""
    if out is None:
        return
    from datetime import UTC, datetime

    from profiler.calibration.assemble.identity import camera
    from profiler.files.meter import write_meter
    from profiler.show.instruments import file_notes

    body = camera(measurement.frames)
    name = f"{body.make} {body.model} {body.serial}".strip()
    notes = file_notes(found, name, f"{datetime.now(UTC):%Y-%m-%d}")
    options.say_kept(write_meter(found.meter, out, notes, replace=replace))
    click.echo(f"Meter file written to {out}", err=True)
