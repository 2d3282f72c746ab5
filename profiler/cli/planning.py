"""The command `plan`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from profiler.cli import options
from profiler.records import LIGHTS, MODES

if TYPE_CHECKING:
    from profiler.onset.plan_frames import Expected
    from profiler.records import Meter


@click.command()
@click.option("--reading", metavar="READING", help="What the meter shows at the card, if known.")
@click.option(
    "--mode", type=click.Choice(MODES), default="spot", show_default=True, help="How it is read."
)
@click.option(
    "--iso", "isos", type=int, multiple=True, default=(100,), show_default=True, help="ISO labels."
)
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
@click.option(
    "--marks",
    type=click.Choice(["third", "half", "full"]),
    default="third",
    show_default=True,
    help="Steps of the camera's dials.",
)
@click.option("--mains", type=click.Choice(["50", "60"]), help="Leave out times that flicker.")
@click.option("--sync", default="1/125", show_default=True, help="Time for flash.")
@click.option("--nd", multiple=True, metavar="LOSS", help="Light lost on the way, as in settings.")
@click.option("--bits", type=int, default=14, show_default=True, help="Bit depth of the raw files.")
@click.option("--short", is_flag=True, help="About half as many settings.")
@click.option("--copies", type=int, default=2, show_default=True, help="Frames of each setting.")
@click.option("--darks", type=int, default=2, show_default=True, help="Lens-cap frames per label.")
@click.option("--meter", type=options.EXISTING_PATH, metavar="METER.toml", help="As in fit.")
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
    reading: str | None,
    mode: str,
    isos: tuple[int, ...],
    light: str,
    aperture: str | None,
    min_time: str,
    max_time: str,
    marks: Any,
    mains: str | None,
    sync: str,
    nd: tuple[str, ...],
    bits: int,
    short: bool,
    copies: int,
    darks: int,
    meter: Path | None,
    profile: Path | None,
    sheet: Path | None,
    page: Path | None,
    replace: bool,
    as_json: bool,
) -> None:
    """List what to shoot for a calibration, and say what it will be worth.

    By time at one aperture; under flash by the flash. Without a reading it says which light to
    bring.
    """
    from profiler.onset.camera import parse_aperture, parse_shutter
    from profiler.onset.corrections import lost_ev, parse_correction
    from profiler.onset.plan import make_plan
    from profiler.onset.plan_labels import Body
    from profiler.show.onset.plan import plan_words

    older, used = _known(profile, meter, mode, isos)
    made = make_plan(
        Body(
            isos=isos,
            min_time_s=parse_shutter(min_time, "--min-time").marked_s,
            max_time_s=parse_shutter(max_time, "--max-time").marked_s,
            marks=marks,
            bits=bits,
            sync_s=parse_shutter(sync, "--sync").marked_s,
        ),
        mode=mode,
        light="flash" if mode.startswith("flash") else light,
        reading=reading,
        aperture=None if aperture is None else parse_aperture(aperture, "--aperture"),
        mains_hz=float(mains or 0),
        meter=used,
        expected=older,
        short=short,
        copies=copies,
        darks=darks,
        lost_ev=lost_ev([parse_correction(text, "--nd") for text in nd]),
    )
    if sheet is not None:
        from profiler.onset.plan_sheet import plan_sheet

        _write(sheet, plan_sheet(made), replace)
    if page is not None:
        from profiler.show.onset.plan_page import plan_page

        _write(page, plan_page(made), replace)
    if as_json:
        options.print_json(made)
        return
    click.echo(plan_words(made))


def _known(
    profile: Path | None, meter: Path | None, mode: str, isos: tuple[int, ...]
) -> tuple[Expected | None, Meter | None]:
    """Where clip is expected, and the meter, as far as files tell."""
    used = None
    if meter is not None:
        from profiler.files.meter import read_meter

        used = read_meter(meter)
    if profile is None:
        return None, used
    from profiler.onset.lookup import meter_of
    from profiler.onset.plan_frames import measured_headroom
    from profiler.onset.profile import Profile

    loaded = Profile.load(profile)
    return measured_headroom(loaded.data, mode, isos), used or meter_of(loaded.data)


def _write(path: Path, text: str, replace: bool) -> None:
    from profiler.files.whole import write_whole

    kept = write_whole(path, text, replace=replace)
    if kept is not None:
        click.echo(f"The older file is kept as {kept}", err=True)
    click.echo(f"Written: {path}", err=True)
