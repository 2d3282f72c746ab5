"""The command `greytare`; each command's module is loaded when it is called."""

from __future__ import annotations

import contextlib
import importlib
import os
import sys

import click

from profiler import __version__
from profiler.cli.numbers import bound_numbers
from profiler.cli.streams import make_output_plain
from profiler.errors import GreytareError

_HERE = os.path.dirname(__file__)
_WORK = {
    "calibrate": ("Calibrate", "plan measure fit follow show compare schema"),
    "onset": ("On set", "check settings place mix convert carry"),
    "instruments": ("Meters and lenses", "meter lens"),
    "bodies": ("Many bodies", "fleet"),
    "teach": ("Teach", "demo simulate"),
    "page": ("All of it as a page", "serve"),
}
"""Folder of commands -> the work that they are for, and the order of it; others come last."""


def _commands_in(folder: str, order: str) -> dict[str, str]:
    """Command name -> module of profiler.cli; each holds the command of its own name."""
    files = (file for file in os.listdir(os.path.join(_HERE, folder)) if file[0] not in "_.")
    there = sorted(file.removesuffix(".py") for file in files)
    names = dict.fromkeys([*order.split(), *there])
    return {name.replace("_", "-"): f"{folder}.{name}" for name in names}


GROUPS = {work: _commands_in(folder, order) for folder, (work, order) in _WORK.items()}
"""Work -> its commands -> module of profiler.cli that holds each."""

COMMANDS = {name: module for group in GROUPS.values() for name, module in group.items()}
"""Command name -> module of profiler.cli that holds it."""


WORDS = {"new_sheet": "greytare measure SERIES --new-sheet SHEET.csv"}
"""What a command says for a data term where that isn't the option of the same name."""


_LONGEST_PLACE = 200
_A_SENTENCE = 200


class LazyGroup(click.Group):
    """A group that imports a command's module only when that command is wanted."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names in the order of the work."""
        return list(COMMANDS)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the commands in groups, by the work that they are for."""
        for work, names in GROUPS.items():
            commands = ((name, self.get_command(ctx, name)) for name in names)
            rows = [(name, each.get_short_help_str(_A_SENTENCE)) for name, each in commands if each]
            with formatter.section(work):
                formatter.write_dl(rows, col_max=max(map(len, COMMANDS)))

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return the command, or None where the name is unknown."""
        if cmd_name not in COMMANDS:
            return None
        name = COMMANDS[cmd_name]
        module = importlib.import_module(f"profiler.cli.{name}")
        command = getattr(module, name.rpartition(".")[2])
        if not isinstance(command, click.Command):
            raise TypeError(f"{cmd_name} isn't a command")
        bound_numbers(command)
        return command


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="greytare")
def greytare() -> None:
    """Measure how a camera body and a handheld meter disagree, and where the highlights clip."""


def option(term: str) -> str:
    """Return how a command names the input with this data term, or another command.

    >>> option("min_time"), option("greytare fit")
    ('--min-time', 'greytare fit')
    """
    if term.startswith("greytare "):
        return term
    return WORDS.get(term, f"--{term.replace('_', '-')}")


def main() -> None:
    """Run the command; whatever goes wrong ends with one sentence and exit code 1.

    Under --json the error stands on stdout too, as an object.
    """
    # all our matrices are small: threads of the linear algebra only cost their start
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    make_output_plain()
    try:
        try:
            greytare(standalone_mode=True)
        finally:
            sys.stdout.flush()
    except GreytareError as error:
        _end(error)
    except BrokenPipeError:
        _give_up_output()
        sys.exit(1)
    except Exception as error:
        from profiler.files.mishap import command_line, mishap

        _end(mishap(error, command_line()))


def _end(error: GreytareError) -> None:
    with contextlib.suppress(OSError):
        said = error.said(option)
        if len(error.where) > _LONGEST_PLACE:
            said = said.replace(error.where, f"{error.where[:_LONGEST_PLACE]}...")
        click.echo(f"greytare: {said}", err=True)
        if "--json" in sys.argv[1:]:
            from profiler.cli.options import print_json

            print_json({"error": error.plain(option)})
    try:
        sys.stdout.flush()
    except OSError:
        _give_up_output()
    sys.exit(1)


def _give_up_output() -> None:
    """Send what is still held for stdout nowhere; Python would try once more as it ends."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
