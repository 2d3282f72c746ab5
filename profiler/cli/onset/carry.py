"""The command `carry`."""

from __future__ import annotations

from pathlib import Path

import click

from profiler.cli import onset_options, options


@options.example("greytare carry halden.profile.json --out halden.html")
@click.command()
@click.argument("profiles", nargs=-1, required=True, type=options.EXISTING_PATH)
@click.option(
    "--out", type=options.EXISTING_PATH, required=True, metavar="FILE.html", help="Where it goes."
)
@click.option(
    "--interval-days",
    type=click.IntRange(0, 100_000),
    default=0,
    metavar="N",
    help="Days after which the page says that a profile is to be checked again. Default: never.",
)
@click.option(
    "--lens",
    "lenses",
    multiple=True,
    metavar="NAME",
    help="Take the answers through this lens along too; may be given several times.",
)
@options.replace
def carry(
    profiles: tuple[Path, ...],
    out: Path,
    interval_days: int,
    lenses: tuple[str, ...],
    replace: bool,
) -> None:
    """Write one file with the answers of PROFILES, to take along on a phone or laptop.

    It asks for no network and no program: settings, place, mix, ratio, conversion, and a sheet to
    fill in beside the camera. Where no script runs it still shows the table of all labels.
    """
    from profiler.onset.lens import profile_through
    from profiler.web.carry.one_file import Carried, carry_page

    taken = []
    for path in profiles:
        profile = onset_options.load(path)
        name = path.name.removesuffix(".json").removesuffix(".profile")
        seen = {name: profile.data}
        for lens in lenses:
            mounted = onset_options.mounted(profile, path, lens, None)
            seen[f"{name}, {mounted.lens.model}"] = profile_through(profile.data, mounted)
        taken += [
            Carried(name=each, path="", data=data, interval_days=interval_days)
            for each, data in seen.items()
        ]
    text = carry_page(taken)
    said = f"Written: {out}, {len(text.encode()) / 1000:.0f} kB"
    options.write(out, text, said, replace=replace)
