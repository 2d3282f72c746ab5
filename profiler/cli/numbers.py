"""Numbers of options kept to what a quantity can be."""

from __future__ import annotations

import click

_MOST = 10**15


class Number(click.ParamType):  # type: ignore[type-arg]
    """A whole or decimal number of usual size; no nan, no infinity, no hundreds of digits."""

    def __init__(self, kind: click.ParamType) -> None:  # type: ignore[type-arg]
        self.kind = kind
        self.name = kind.name

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Return the number; a usage error names the option otherwise."""
        found: float = self.kind.convert(value, param, ctx)
        if not abs(found) <= _MOST:  # nan is caught as well
            self.fail(f"{value} isn't a number that can be used here", param, ctx)
        return found


def bound_numbers(command: click.Command) -> None:
    """Hold all plain numbers among a command's options to their limits, subcommands included."""
    for param in command.params:
        if param.type in (click.INT, click.FLOAT):
            param.type = Number(param.type)
    if isinstance(command, click.Group):
        for each in command.commands.values():
            bound_numbers(each)
