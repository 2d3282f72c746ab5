"""The command `lens`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from profiler.cli import onset_options, options
from profiler.cli.series import ELECTRONIC, SERIES, TIMES, measured, sheet_of


@options.example("greytare lens bag --profile halden.profile.json")
@click.command()
@SERIES
@click.option(
    "--profile",
    "profile_path",
    type=options.EXISTING_PATH,
    required=True,
    metavar="BODY.profile.json",
    help="Profile of the body, whose lens the others are held against.",
)
@click.option(
    "--out",
    type=options.EXISTING_PATH,
    metavar="BODY.lenses.json",
    help="Where to keep the lenses. Default: beside the profile.",
)
@options.sheet
@click.option(
    "--aperture", metavar="f/N", help="The calibrated lens's, where the profile holds several."
)
@ELECTRONIC
@TIMES
@options.patch
@options.replace
@options.as_json
def lens(
    series: Path,
    profile_path: Path,
    out: Path | None,
    sheet_path: Path | None,
    aperture: str | None,
    patch: str,
    replace: bool,
    as_json: bool,
    **asked: Any,
) -> None:
    """Measure the lenses of a body by the frames of SERIES, against the calibrated one.

    Shoot one card under one steady light through each lens, two frames or more at each mark of
    interest, at one shutter time; the calibrated lens first, and once more last, at the aperture of
    its profile. Two frames with the lens cap on give black. A lens that the files don't name goes
    into the column 'lens' of the sheet; no meter is needed.
    """
    from profiler.calibration.instruments.lenses import measure_lenses
    from profiler.files.atomic import check_output
    from profiler.files.profile import lenses_path, save_lenses
    from profiler.files.sheet import Sheet
    from profiler.onset.lens import profile_aperture
    from profiler.show.lenses import lenses_answer

    target = out or lenses_path(profile_path)
    check_output(target, replace=replace)
    data = onset_options.load(profile_path).data
    sheet = sheet_of(series, sheet_path) or Sheet(name="the sheet", columns=())
    found = measure_lenses(
        measured(series, sheet, patch),
        sheet,
        calibrated=data.lens.model,
        aperture=profile_aperture(data, aperture),
        camera=data.camera,
        **asked,
    )
    options.say_kept(save_lenses(found, target, replace=replace))
    click.echo(f"Lenses written to {target}", err=True)
    onset_options.tell(found, lambda: lenses_answer(found), as_json)
