"""The command `plan`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from profiler.cli import onset_options, options
from profiler.records import LIGHTS, MODES
from profiler.show.inputs import LOSS, MAINS, MARKS


@options.example('greytare plan --iso 400 --light daylight --reading "EV 12.0" --sheet sheet.csv')
@click.command()
@click.option("--reading", metavar="READING", help="What the meter shows at the card, if known.")
@click.option(
    "--mode", type=click.Choice(MODES), default="spot", show_default=True, help="How it is read."
)
@options.isos(100)
@click.option(
    "--light", type=click.Choice(LIGHTS), default="daylight", show_default=True, help="The light."
)
@click.option("--aperture", metavar="f/N", help="One aperture for all; default: what suits best.")
@click.option("--min-time", default="1/4000", show_default=True, help="Shortest time to use.")
@click.option(
    "--max-time",
    default="0.8",
    show_default=True,
    help="Longest time to use; from 1 s on bodies may take dark frames off.",
)
@onset_options.asked(MARKS)
@onset_options.asked(MAINS)
@click.option("--sync", default="1/125", show_default=True, help="Time for flash.")
@onset_options.asked(LOSS)
@click.option("--bits", type=int, default=14, show_default=True, help="Bit depth of the raw files.")
@click.option("--short", is_flag=True, help="About half as many settings.")
@click.option("--copies", type=int, default=2, show_default=True, help="Frames of each setting.")
@click.option("--darks", type=int, default=2, show_default=True, help="Lens-cap frames per label.")
@click.option(
    "--readings",
    type=int,
    default=2,
    show_default=True,
    help="Readings taken anew, before and after the frames.",
)
@click.option(
    "--shutter",
    type=click.Choice(["mechanical", "electronic"]),
    default="mechanical",
    show_default=True,
    help="Electronic ones scatter less; only in light that doesn't pulse.",
)
@click.option(
    "--goal",
    "goal_ev",
    type=float,
    metavar="EV",
    help="Find the cheapest plan that knows the offset to this, such as 0.05, or what hinders it.",
)
@options.meter
@click.option(
    "--profile",
    type=options.EXISTING_PATH,
    metavar="FILE",
    help="An older profile of this body: clip is then expected where it was.",
)
@click.option("--sheet", type=options.EXISTING_PATH, metavar="FILE.csv", help="Write the sheet.")
@click.option("--page", type=options.EXISTING_PATH, metavar="FILE.html", help="Write a page.")
@options.replace
@options.as_json
def plan(
    meter: Path | None,
    profile: Path | None,
    sheet: Path | None,
    page: Path | None,
    replace: bool,
    as_json: bool,
    **asked: Any,
) -> None:
    """List what to shoot for a calibration, and say what it will be worth.

    By time at one aperture; under flash by the flash. Without a reading it says which light to
    bring.
    """
    from profiler.onset.plan import PlanAsk
    from profiler.onset.plan import plan as make
    from profiler.show.onset.plan import plan_answer

    data = None if profile is None else onset_options.load(profile).data
    made = make(PlanAsk(**asked), data, options.meter_in(meter))
    then = _at_the_computer(made.light)
    if sheet is not None:
        from profiler.show.onset.plan_page import plan_sheet

        options.write(sheet, plan_sheet(made), f"Written: {sheet}", replace=replace)
    if page is not None:
        from profiler.show.onset.plan_page import plan_page

        options.write(page, plan_page(made, then), f"Written: {page}", replace=replace)
    onset_options.tell(made, lambda: plan_answer(made, then), as_json)


def _at_the_computer(light: str) -> tuple[str, ...]:
    return (
        "greytare measure FOLDER --new-sheet FOLDER/sheet.csv lists the files: fill in the "
        "reading and its mode, write dark for the lens-cap frames.",
        f"greytare fit FOLDER --out BODY.profile.json --light {light}",
    )
