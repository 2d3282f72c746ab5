"""Inputs that several questions have, as commands and page offer them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, kw_only=True)
class Input:
    """One input: an option of commands, a field of the page.

    field: of the question's record, where it isn't the name. label, hint: on the page; help,
    metavar: of commands. choices: values with the page's words, the usual one first; unasked: the
    page's value and words for none of them. limits: of a number. number: a choice that stands for
    one. several: parts by semicolons on the page, an option that may be given several times.
    """

    name: str
    field: str = ""
    label: str
    hint: str = ""
    help: str
    metavar: str | None = None
    choices: tuple[tuple[str, str], ...] = ()
    unasked: tuple[tuple[str, str], ...] = ()
    limits: tuple[float, float] | None = None
    number: bool = False
    several: bool = False

    @property
    def key(self) -> str:
        """Name of the field in the question's record."""
        return self.field or self.name


LOSS: Final = Input(
    name="loss",
    label="Filters and losses",
    hint="ND 0.9; magnification 0.5; converter 1.4; separated by ;",
    help="Light lost on the way: 'ND 0.9', '3 stops', 'factor 8', 'magnification 0.5', "
    "'converter 1.4', 'transmission 0.8' ...; may be given several times.",
    metavar="LOSS",
    several=True,
)
AIM: Final = Input(
    name="aim",
    label="Aim",
    hint="iso12232, white-at-clip or stops below clip",
    help="Another aim than the profile's, as in fit.",
    metavar="AIM",
)
TRANSMISSION: Final = Input(
    name="transmission",
    label="Transmission of the lens",
    hint="0.9: lets T-stops meet f-numbers",
    help="Part of the light that the measured lens passes; lets T-stops meet f-numbers.",
    metavar="PART",
    limits=(0.01, 1.0),
)
AVERAGE: Final = Input(
    name="average",
    label="Several readings of one",
    help="How several readings of one spot, separated by ;, are averaged.",
    choices=(("stops", "averaged as stops"), ("light", "averaged as light")),
)
MARKS: Final = Input(
    name="marks",
    label="Camera's steps",
    help="Steps of the camera's dials.",
    choices=(("third", "thirds of a stop"), ("half", "half stops"), ("full", "full stops")),
)
MAINS: Final = Input(
    name="mains",
    field="mains_hz",
    label="Mains",
    help="Mains frequency in Hz.",
    choices=(("50", "50 Hz"), ("60", "60 Hz")),
    unasked=(("0", "not asked"),),
    number=True,
)
SYNC: Final = Input(
    name="sync",
    field="sync_s",
    label="Flash sync time",
    hint="1/200; empty: not asked",
    help="Shortest time for flash, such as 1/200.",
    metavar="TIME",
)
ON_BODY: Final = (LOSS, AIM, TRANSMISSION, AVERAGE, MARKS, MAINS, SYNC)
"""What every question about a measured body has, in the order in which it is offered."""
