"""What `--help` says of the commands."""

from __future__ import annotations

import shlex

import click
import pytest
from click.testing import CliRunner

from profiler.cli.main import COMMANDS, GROUPS, greytare


def commands(group=greytare, before=()):
    """Each command with the words that call it."""
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        yield (*before, name), command
        if isinstance(command, click.Group):
            yield from commands(command, (*before, name))


def test_commands_stand_in_groups_by_the_work():
    lines = CliRunner().invoke(greytare, ["--help"]).output.splitlines()
    heads = [line.removesuffix(":") for line in lines if line.endswith(":") and line[0] != " "]
    assert heads == ["Options", *GROUPS]
    named = [line.split()[0] for line in lines if line.startswith("  ") and line[2] != " "]
    assert [word for word in named if word in COMMANDS] == list(COMMANDS)


def test_every_command_has_an_example():
    assert [words for words, each in commands() if "Example:" not in (each.epilog or "")] == []


@pytest.mark.parametrize(("words", "command"), list(commands()))
def test_examples_stand_in_the_help_and_can_be_typed(words, command):
    said = CliRunner().invoke(greytare, [*words, "--help"]).output
    example = said.partition("Example:")[2]
    assert max(map(len, said.splitlines())) <= 90
    typed = shlex.split(example.partition(" > ")[0].replace("\\\n", " "))
    assert typed[: len(words) + 1] == ["greytare", *words]
    command.make_context(" ".join(words), typed[len(words) + 1 :])
