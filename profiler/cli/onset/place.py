"""The command `place`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from profiler.cli import onset_options, options


@options.example("""\
greytare place halden.profile.json --iso 400 --key "EV 12.0" \\
  --spot "shirt=EV 14.3" --spot "hair=EV 8.1" --keep shirt --plot scale.png""")
@click.command()
@onset_options.PROFILE
@click.option("--iso", type=int, required=True, help="ISO label set on the body.")
@click.option("--key", metavar="READING", help="Reading that the exposure is made for.")
@click.option(
    "--spot",
    "spots",
    multiple=True,
    metavar="NAME=READING",
    help='A named spot reading, such as "hair=EV 8.1"; several of one separated by ;.',
)
@click.option(
    "--setting",
    default="aim",
    show_default=True,
    metavar="SETTING",
    help="The camera's, such as 'f/8 1/60'; or aim (key on the aim), or meter (as it asks).",
)
@click.option("--keep", multiple=True, metavar="NAME", help="Highlight that must not clip.")
@click.option(
    "--shadow", "shadows", multiple=True, metavar="NAME", help="Shadow to be kept at SNR 10."
)
@click.option(
    "--sort",
    type=click.Choice(["given", "bright"]),
    default="given",
    show_default=True,
    help="Order of the spots.",
)
@click.option("--plot", type=options.EXISTING_PATH, metavar="FILE.png", help="Draw the scale.")
@onset_options.on_body
@options.as_json
def place(
    profile: Path,
    plot: Path | None,
    lens: str | None,
    lenses: Path | None,
    as_json: bool,
    **asked: Any,
) -> None:
    """Show where a key and named spots land: from grey, from clip, from the floor.

    Says which are lost, which are in doubt within the uncertainty, and what the exposure may do.
    """
    from profiler.show.onset.place import place_answer

    loaded = onset_options.load(profile)
    placed = loaded.place(lens=onset_options.mounted(loaded, profile, lens, lenses), **asked)
    if plot is not None:
        from profiler.show.onset.place import place_scale
        from profiler.show.onset.scale import save_scale

        save_scale(place_scale(placed), plot)
    onset_options.tell(placed, lambda: place_answer(placed), as_json)
