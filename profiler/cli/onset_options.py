"""Options of the commands on set, named as the fields of the questions that they fill."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from profiler.cli import options
from profiler.records import LIGHTS, MODES

if TYPE_CHECKING:
    from profiler.onset.profile import Profile
    from profiler.records import Meter
    from profiler.show.answer import Answer

F = TypeVar("F", bound=Callable[..., Any])


def _hertz(_context: click.Context, _option: click.Parameter, chosen: str | None) -> float:
    return float(chosen or 0)


PROFILE = click.argument("profile", type=options.EXISTING_PATH)
MODE = click.option(
    "--mode", type=click.Choice(MODES), help="How the reading was taken; needed if several fit."
)
LIGHT = click.option(
    "--light", type=click.Choice(LIGHTS), help="Light to look up; needed if several fit."
)
_AIM = click.option("--aim", metavar="AIM", help="Another aim than the profile's, as in fit.")
MARKS = click.option(
    "--marks",
    type=click.Choice(["third", "half", "full"]),
    default="third",
    show_default=True,
    help="Steps of the camera's dials.",
)
LOSS = click.option(
    "--loss",
    multiple=True,
    metavar="LOSS",
    help="Light lost on the way: 'ND 0.9', '3 stops', 'factor 8', 'magnification 0.5', "
    "'converter 1.4', 'transmission 0.8' ...; may be given several times.",
)
TRANSMISSION = click.option(
    "--transmission",
    type=float,
    metavar="PART",
    help="Part of the light that the measured lens passes; lets T-stops meet f-numbers.",
)
MAINS = click.option(
    "--mains",
    "mains_hz",
    type=click.Choice(["50", "60"]),
    callback=_hertz,
    help="Mains frequency in Hz.",
)
_SYNC = click.option(
    "--sync",
    "sync_s",
    metavar="TIME",
    help="Shortest time for flash, such as 1/200.",
)
_AVERAGE = click.option(
    "--average",
    type=click.Choice(["stops", "light"]),
    default="stops",
    show_default=True,
    help="How several readings of one spot, separated by ;, are averaged.",
)
_LENSES = click.option(
    "--lenses",
    type=options.EXISTING_PATH,
    metavar="FILE",
    help="Where the lenses are kept. Default: BODY.lenses.json beside the profile.",
)
_LENS = click.option(
    "--lens",
    metavar="NAME",
    help="Another lens than the calibrated one, as lens measured it.",
)
METER = click.option("--meter", type=options.EXISTING_PATH, metavar="METER.toml", help="As in fit.")
_BETWEEN = click.option(
    "--between",
    is_flag=True,
    help="Answer for an ISO label between measured ones, too, with a wider margin.",
)


def other_lens(command: F) -> F:
    """Options of another lens than the calibrated one."""
    return _LENS(_LENSES(command))


def on_body(command: F) -> F:
    """Options that settings and place share."""
    for option in (_SYNC, MAINS, MARKS, _AVERAGE, TRANSMISSION, LOSS, _AIM, _BETWEEN, LIGHT, MODE):
        command = option(command)
    return other_lens(command)


def mounted(profile: Profile, path: Path, name: str | None, lenses: Path | None) -> Any:
    """Return the lens of that name on the profile's body, None where none is named."""
    if name is None:
        if lenses is not None:
            raise click.UsageError("--lenses needs --lens NAME")
        return None
    from profiler.files.profile import lenses_path, load_lenses
    from profiler.onset.lens import mount

    return mount(profile.data, load_lenses(lenses or lenses_path(path)), name)


def load(path: Path) -> Profile:
    """Return the profile in a file."""
    from profiler.onset.profile import Profile

    return Profile.load(path)


def meter_in(path: Path | None) -> Meter | None:
    """Return the meter in a file, None where none is given."""
    if path is None:
        return None
    from profiler.files.meter import read_meter

    return read_meter(path)


def tell(record: Any, answer: Callable[[], Answer], as_json: bool) -> None:
    """Print the record as JSON, or the answer that is made of it."""
    if as_json:
        options.print_json(record)
        return
    options.say(answer())
