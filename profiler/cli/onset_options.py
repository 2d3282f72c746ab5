"""Options of the commands on set."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from profiler.cli import options
from profiler.records import LIGHTS, MODES

if TYPE_CHECKING:
    from profiler.onset.profile import Profile

F = TypeVar("F", bound=Callable[..., Any])

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
ND = click.option(
    "--nd",
    multiple=True,
    metavar="LOSS",
    help="Light lost on the way: 'ND 0.9', '3 stops', 'factor 8', 'magnification 0.5', "
    "'converter 1.4', 'transmission 0.8' ...; may be given several times.",
)
_TRANSMISSION = click.option(
    "--transmission",
    type=float,
    metavar="PART",
    help="Part of the light that the measured lens passes; lets T-stops meet f-numbers.",
)
_MAINS = click.option("--mains", type=click.Choice(["50", "60"]), help="Mains frequency in Hz.")
_SYNC = click.option("--sync", metavar="TIME", help="Shortest time for flash, such as 1/200.")
_AVERAGE = click.option(
    "--average",
    type=click.Choice(["stops", "light"]),
    default="stops",
    show_default=True,
    help="How several readings of one spot, separated by ;, are averaged.",
)


def on_body(command: F) -> F:
    """Options that settings and place share."""
    for option in (_SYNC, _MAINS, MARKS, _AVERAGE, _TRANSMISSION, ND, _AIM, LIGHT, MODE):
        command = option(command)
    return command


def load(path: Path) -> Profile:
    """Return the profile in a file."""
    from profiler.onset.profile import Profile

    return Profile.load(path)
