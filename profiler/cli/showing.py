"""The commands `show` and `schema`."""

from __future__ import annotations

from pathlib import Path

import click

from profiler.cli import options


@click.command()
@click.argument("profile", type=options.EXISTING_PATH)
@click.option("--plot", type=options.EXISTING_PATH, metavar="FILE.png", help="Draw the result.")
@click.option("--budget", is_flag=True, help="Add the uncertainty budget of each result.")
@options.as_json
def show(profile: Path, plot: Path | None, budget: bool, as_json: bool) -> None:
    """Show a saved PROFILE as a photographer reads it."""
    from profiler.files.profile import load_profile, profile_json

    loaded = load_profile(profile)
    if plot is not None:
        from profiler.show.plots import save_overview

        save_overview(loaded, plot)
    if as_json:
        click.echo(profile_json(loaded), nl=False)
        return
    from profiler.show.text import describe

    click.echo(describe(loaded, budget=budget))


@click.command()
def schema() -> None:
    """Print the JSON Schema of the profile format."""
    from profiler.files.profile import profile_schema

    click.echo(profile_schema(), nl=False)
