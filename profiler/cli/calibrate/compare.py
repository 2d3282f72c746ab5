"""The command `compare`."""

from __future__ import annotations

from pathlib import Path

import click

from profiler.cli import fleet_options, options


@options.example("greytare compare halden.profile.json halden-2.profile.json --plot moved.png")
@click.command()
@click.argument("first", type=options.EXISTING_PATH)
@click.argument("second", type=options.EXISTING_PATH)
@fleet_options.common
@fleet_options.plot
@options.as_json
def compare(first: Path, second: Path, common: float, plot: Path | None, as_json: bool) -> None:
    """Compare two calibrations of yours: profile FIRST, the older one, and SECOND.

    New firmware, a service, another meter or lens: what moved, per ISO label, with the errors that
    both have in common taken out.
    """
    from profiler.fleet.two import compare_two
    from profiler.show.fleet.two import two_answer, two_figure

    found = compare_two(first, second, fleet_options.share(common))
    if plot is not None:
        from profiler.show.plots import save_figure

        save_figure(two_figure(found), plot)
    if as_json:
        options.print_json(found)
        return
    options.say(two_answer(found))
