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
    reading: str,
    iso: int | None,
    aperture: str | None,
    t_stop: str | None,
    time: str | None,
    shutter_angle: float | None,
    fps: float | None,
    mode: str | None,
    light: str | None,
    aim: str | None,
    nd: tuple[str, ...],
    transmission: float | None,
    average: Any,
    marks: Any,
    mains: str | None,
    sync: str | None,
    as_json: bool,
) -> None:
    """Find what to set on meter or camera for READING, from a saved PROFILE.

    READING is what the meter showed: "EV 10.3", "650 lx", "f/8 1/125 ISO 100" ... With --aperture
    and --time the best ISO label is found, or what is left over at --iso.
    """
    from profiler.show.onset.settings import settings_words

    loaded = onset_options.load(profile)
    answer = loaded.settings(
        reading,
        iso=iso,
        mode=mode,
        light=light,
        aperture=_aperture(aperture, t_stop),
        time=_time(time, shutter_angle, fps),
        fps=fps,
        nd=nd,
        transmission=transmission,
        aim=_aim(aim),
        marks=marks,
        average=average,
        mains_hz=float(mains or 0),
        sync_s=_sync(sync),
    )
    if as_json:
        options.print_json(answer)
        return
    first = loaded.find(answer.iso, answer.mode, answer.light, None).first_to_clip
    click.echo(settings_words(answer, first))


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
@click.option("--shadow", multiple=True, metavar="NAME", help="Shadow to be kept at SNR 10.")
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
    iso: int,
    key: str | None,
    spots: tuple[str, ...],
    setting: str,
    keep: tuple[str, ...],
    shadow: tuple[str, ...],
    sort: str,
    plot: Path | None,
    mode: str | None,
    light: str | None,
    aim: str | None,
    nd: tuple[str, ...],
    transmission: float | None,
    average: Any,
    marks: Any,
    mains: str | None,
    sync: str | None,
    as_json: bool,
) -> None:
    """Show where a key and named spots land: from grey, from clip, from the floor.

    Says which are lost, which are in doubt within the uncertainty, and what the exposure may do.
    """
    from dataclasses import replace

    from profiler.show.onset.place import placed_words

    placed = onset_options.load(profile).place(
        iso,
        key=key,
        spots=spots,
        mode=mode,
        light=light,
        setting=setting,
        keep=keep,
        shadows=shadow,
        aim=_aim(aim),
        average=average,
        nd=nd,
        transmission=transmission,
        marks=marks,
        mains_hz=float(mains or 0),
        sync_s=_sync(sync),
    )
    if sort == "bright":
        bright = sorted(placed.spots, key=lambda spot: spot.below_clip_ev.value)
        placed = replace(placed, spots=tuple(bright))
    if plot is not None:
        from profiler.show.onset.scale import save_scale

        save_scale(placed, plot)
    if as_json:
        options.print_json(placed)
        return
    click.echo(placed_words(placed))


@click.command()
@onset_options.PROFILE
@click.argument("frames", nargs=-1, required=True, type=options.EXISTING_PATH)
@click.option("--reading", required=True, help="What the meter showed for these frames.")
@onset_options.MODE
@onset_options.LIGHT
@onset_options.ND
@options.patch
@options.allow_8bit
@options.as_json
def check(
    profile: Path,
    frames: tuple[Path, ...],
    reading: str,
    mode: str | None,
    light: str | None,
    nd: tuple[str, ...],
    patch: str,
    allow_8bit: bool,
    as_json: bool,
) -> None:
    """Hold one or two raw FRAMES of the grey card against PROFILE: does it still hold?"""
    from profiler.show.onset.check import check_words

    found = onset_options.load(profile).check(
        frames, reading, mode=mode, light=light, nd=nd, patch=patch, allow_8bit=allow_8bit
    )
    if as_json:
        options.print_json(found)
        return
    click.echo(check_words(found))


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


def _sync(sync: str | None) -> float:
    if sync is None:
        return 0.0
    from profiler.onset.camera import parse_shutter

    return parse_shutter(sync, "--sync").marked_s


def _aim(aim: str | None) -> float | None:
    if aim is None:
        return None
    from profiler.exposure.aims import parse_aim

    return parse_aim(aim)
