"""The command `check`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from profiler.cli import onset_options, options
from profiler.show.inputs import LOSS


@options.example('greytare check halden.profile.json IMG_0019.dng --reading "EV 10.1"')
@click.command()
@onset_options.PROFILE
@click.argument("frames", nargs=-1, required=True, type=options.EXISTING_PATH)
@click.option("--reading", required=True, help="What the meter showed for these frames.")
@onset_options.MODE
@onset_options.LIGHT
@onset_options.asked(LOSS)
@options.patch
@options.allow_8bit
@options.as_json
def check(profile: Path, as_json: bool, **asked: Any) -> None:
    """Hold one or two raw FRAMES of the grey card against PROFILE: does it still hold?"""
    from profiler.show.onset.check import check_answer

    found = onset_options.load(profile).check(**asked)
    onset_options.tell(found, lambda: check_answer(found), as_json)
