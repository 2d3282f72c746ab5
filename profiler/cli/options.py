"""Options that several commands share."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable
from dataclasses import asdict, is_dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from profiler.records import LIGHTS

if TYPE_CHECKING:
    from profiler.records import Meter
    from profiler.show.answer import Answer

F = TypeVar("F", bound=Callable[..., Any])
C = TypeVar("C", bound=click.Command)
_MOST_DIGITS = 9

EXISTING_PATH = click.Path(path_type=Path)

as_json = click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead.")
replace = click.option(
    "--replace", is_flag=True, help="Write over an existing file; the old one is kept beside it."
)
sheet = click.option(
    "--sheet",
    "sheet_path",
    type=EXISTING_PATH,
    metavar="SHEET.csv",
    help="What the meter showed. Default: sheet.csv in the series.",
)
patch = click.option(
    "--patch",
    default="auto",
    show_default=True,
    metavar="X,Y,W,H",
    help="Part of the frame to measure, as fractions of its width and height.",
)
preview = click.option(
    "--preview",
    type=EXISTING_PATH,
    metavar="FILE.png",
    help="Draw the patch into a picture of a frame.",
)
allow_8bit = click.option(
    "--allow-8bit", is_flag=True, help="Measure 8 bit data too, if you know that it is linear."
)
light = click.option(
    "--light",
    type=click.Choice(LIGHTS),
    default="other",
    show_default=True,
    help="What lit the target; the result holds for this light.",
)
meter = click.option(
    "--meter",
    type=EXISTING_PATH,
    metavar="METER.toml",
    help="Your meter's name, constants and figures.",
)
aim = click.option(
    "--aim",
    default="iso12232",
    show_default=True,
    metavar="AIM",
    help="Stops below clip for a metered grey: iso12232, white-at-clip or a number.",
)
times = click.option(
    "--times",
    type=click.Choice(["best", "exact", "as-marked"]),
    default="best",
    show_default=True,
    help="What a marked time such as 1/60 stands for.",
)


class _Labels(click.ParamType):  # type: ignore[type-arg]
    """Whole numbers above 0, one or several by commas."""

    name = "iso"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[int, ...]:
        """Return the numbers; a usage error says which isn't one."""
        if isinstance(value, int | tuple):
            return value if isinstance(value, tuple) else (value,)
        parts = [part.strip() for part in str(value).split(",")]
        for part in parts:
            if not (part.isascii() and part.isdigit() and 0 < len(part) <= _MOST_DIGITS):
                self.fail(f"{part!r} isn't an ISO label; write such as 100,400", param, ctx)
        return tuple(map(int, parts))


def _flat(_ctx: click.Context, _param: click.Parameter, found: tuple[Any, ...]) -> tuple[int, ...]:
    """All labels in one row, each once."""
    labels = (label for each in found for label in (each if isinstance(each, tuple) else (each,)))
    return tuple(dict.fromkeys(labels))


def isos(*default: int) -> Callable[[F], F]:
    """Return the option for ISO labels: `--iso 100,400`, or several times."""
    return click.option(
        "--iso",
        "isos",
        type=_Labels(),
        multiple=True,
        default=default,
        callback=_flat,
        metavar="ISO[,ISO...]",
        help=f"ISO labels. Default: {','.join(map(str, default)) or 'those that come'}.",
    )


def example(typed: str) -> Callable[[C], C]:
    """Return what puts a call, as one types it, at the end of a command's help."""

    def ended(command: C) -> C:
        command.epilog = f"\b\nExample:\n  {typed}".replace("\n  --", "\n    --")
        return command

    return ended


def meter_in(path: Path | None) -> Meter | None:
    """Return the meter in a file, None where none is given."""
    if path is None:
        return None
    from profiler.files.meter import read_meter

    return read_meter(path)


def tell(notice: str) -> None:
    """Say on stderr what was assumed about a file."""
    click.echo(f"{notice}.", err=True)


def say_kept(kept: Path | None) -> None:
    """Say on stderr where an older file is kept, if one was replaced."""
    if kept is not None:
        click.echo(f"The older file is kept as {kept}", err=True)


def write(path: Path, text: str, said: str, *, replace: bool) -> None:
    """Write a file whole or not at all, and say so on stderr; an older one is kept."""
    from profiler.files.atomic import write_whole

    say_kept(write_whole(path, text, replace=replace))
    click.echo(said, err=True)


def line_width() -> int | None:
    """Return the characters of a line where a terminal shows it; None for a file or a pipe."""
    try:
        return os.get_terminal_size(sys.stdout.fileno()).columns or None
    except (OSError, ValueError):
        return None


def say(answer: Answer) -> None:
    """Print an answer as text."""
    from profiler.show.terminal import printed

    click.echo(printed(answer, line_width()))


def print_json(data: Any) -> None:
    """Print an object (dataclasses allowed) as JSON."""
    plain = asdict(data) if is_dataclass(data) and not isinstance(data, type) else data
    click.echo(json.dumps(plain, indent=2, ensure_ascii=False))
