"""Options of the commands on set, named as the fields of the questions that they fill."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from profiler.cli import options
from profiler.records import LIGHTS, MODES
from profiler.show.inputs import ON_BODY, Input

if TYPE_CHECKING:
    from profiler.onset.profile import Profile
    from profiler.show.answer import Answer

F = TypeVar("F", bound=Callable[..., Any])


PROFILE = click.argument("profile", type=options.EXISTING_PATH)
MODE = click.option(
    "--mode", type=click.Choice(MODES), help="How the reading was taken; needed if several fit."
)
LIGHT = click.option(
    "--light", type=click.Choice(LIGHTS), help="Light to look up; needed if several fit."
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
_BETWEEN = click.option(
    "--between",
    is_flag=True,
    help="Answer for an ISO label between measured ones, too, with a wider margin.",
)


def asked(given: Input) -> Callable[[F], F]:
    """Return the option for an input that several questions have."""
    kind: Any = None if given.limits is None else float
    usual = None
    if given.choices:
        kind = click.Choice([value for value, _ in given.choices])
        usual = None if given.unasked else given.choices[0][0]
    return click.option(
        f"--{given.name}",
        given.key,
        type=kind,
        default=usual,
        show_default=usual is not None,
        multiple=given.several,
        callback=_number if given.number else None,
        metavar=given.metavar,
        help=given.help,
    )


def _number(_context: click.Context, _option: click.Parameter, chosen: str | None) -> float:
    return float(chosen or 0)


def other_lens(command: F) -> F:
    """Options of another lens than the calibrated one."""
    return _LENS(_LENSES(command))


def on_body(command: F) -> F:
    """Options that settings and place share."""
    for option in (MODE, LIGHT, _BETWEEN, *map(asked, ON_BODY))[::-1]:
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


def tell(record: Any, answer: Callable[[], Answer], as_json: bool) -> None:
    """Print the record as JSON, or the answer that is made of it."""
    if as_json:
        options.print_json(record)
        return
    options.say(answer())
