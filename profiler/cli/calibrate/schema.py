"""The command `schema`."""

from __future__ import annotations

import click

from profiler.cli import options


@options.example("greytare schema > profile.schema.json")
@click.command()
def schema() -> None:
    """Print the JSON Schema of the profile format."""
    from profiler.files.profile import profile_schema

    click.echo(profile_schema(), nl=False)
