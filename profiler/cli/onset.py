"""The commands `settings`, `place`, `check`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from profiler.cli import onset_options, options


@click.command()
@onset_options.PROFILE
@click.argument("reading")
@click.option("--iso", type=int, help="ISO label set on the body.")
@click.option("--aperture", metavar="f/N", help="Wanted aperture; the time is found.")
@click.option("--t-stop", metavar="T", help="Wanted T-stop, instead of --aperture.")
@click.option("--time", metavar="TIME", help="Wanted time, such as 1/60; the aperture is found.")
@click.option("--shutter-angle", type=float, metavar="DEG", help="Wanted angle; needs --fps.")
@click.option("--fps", type=float, help="Frame rate; without --shutter-angle the angle is found.")
@onset_options.on_body
@options.as_json
def settings(
    profile: Path,
    aperture: str | None,
    t_stop: str | None,
    time: str | None,
    shutter_angle: float | None,
    lens: str | None,
    lenses: Path | None,
    as_json: bool,
    **asked: Any,
) -> None:
    """Find what to set on meter or camera for READING, from a saved PROFILE.

    READING is what the meter showed: "EV 10.3", "650 lx", "f/8 1/125 ISO 100" ... With --aperture
    and --time the best ISO label is found, or what is left over at --iso.

    \b
    greytare settings BODY.profile.json "EV 10.3" --iso 400 --aperture f/8
    """
    from profiler.show.onset.settings import settings_answer

    loaded = onset_options.load(profile)
    found = loaded.settings(
        lens=onset_options.mounted(loaded, profile, lens, lenses),
        aperture=_aperture(aperture, t_stop),
        time=_time(time, shutter_angle, asked["fps"]),
        **asked,
    )
    onset_options.tell(found, lambda: settings_answer(found), as_json)


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

    \b
    greytare place BODY.profile.json --iso 400 --key "EV 12" --spot "hair=EV 8.1"
    """
    from profiler.show.onset.place import place_answer

    loaded = onset_options.load(profile)
    placed = loaded.place(lens=onset_options.mounted(loaded, profile, lens, lenses), **asked)
    if plot is not None:
        from profiler.show.onset.place import place_scale
        from profiler.show.onset.scale import save_scale

        save_scale(place_scale(placed), plot)
    onset_options.tell(placed, lambda: place_answer(placed), as_json)


@click.command()
@onset_options.PROFILE
@click.argument("frames", nargs=-1, required=True, type=options.EXISTING_PATH)
@click.option("--reading", required=True, help="What the meter showed for these frames.")
@onset_options.MODE
@onset_options.LIGHT
@onset_options.LOSS
@options.patch
@options.allow_8bit
@options.as_json
def check(profile: Path, as_json: bool, **asked: Any) -> None:
    """Hold one or two raw FRAMES of the grey card against PROFILE: does it still hold?

    \b
    greytare check BODY.profile.json IMG_0004.dng --reading "EV 10.3"
    """
    from profiler.show.onset.check import check_answer

    found = onset_options.load(profile).check(**asked)
    onset_options.tell(found, lambda: check_answer(found), as_json)


def _aperture(aperture: str | None, t_stop: str | None) -> str | None:
    if aperture is not None and t_stop is not None:
        raise click.UsageError("give --aperture or --t-stop, not both")
    if t_stop is None:
        return aperture
    return t_stop if t_stop.strip().lower().startswith("t") else f"T{t_stop.strip()}"


def _time(time: str | None, angle: float | None, fps: float | None) -> str | None:
    if angle is None:
        return time
    if time is not None:
        raise click.UsageError("give --time or --shutter-angle, not both")
    if fps is None:
        raise click.UsageError("--shutter-angle needs --fps")
    return f"{angle:g}deg {fps:g}fps"
