"""The command `settings`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from profiler.cli import onset_options, options


@options.example('greytare settings halden.profile.json "EV 12.3" --iso 400 --aperture f/5.6')
@click.command()
@onset_options.PROFILE
@click.argument("reading", nargs=-1, required=True)
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
    reading: tuple[str, ...],
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
    """
    from profiler.show.onset.settings import settings_answer

    loaded = onset_options.load(profile)
    found = loaded.settings(
        " ".join(reading),
        lens=onset_options.mounted(loaded, profile, lens, lenses),
        aperture=_aperture(aperture, t_stop),
        time=_time(time, shutter_angle, asked["fps"]),
        **asked,
    )
    onset_options.tell(found, lambda: settings_answer(found), as_json)


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
