"""The command `show`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from profiler.cli import options
from profiler.errors import GreytareError

if TYPE_CHECKING:
    from profiler.results import ProfileData


PLOT_NAMES = (
    "overview",
    "bars",
    "response",
    "residuals",
    "clip",
    "transfer",
    "iso",
    "shutter",
    "budget",
)
"""What `--plot` can draw; a test holds these to the plots there are."""


@options.example("greytare show halden.profile.json --budget --report report.html")
@click.command()
@click.argument("profile", type=options.EXISTING_PATH)
@click.option(
    "--report",
    type=options.EXISTING_PATH,
    metavar="FILE.html",
    help="Write everything about the profile as one page to read or print.",
)
@click.option(
    "--card",
    type=options.EXISTING_PATH,
    metavar="FILE.html",
    help="Write a small card to print, fold and keep with the camera.",
)
@click.option(
    "--plot",
    "plots",
    multiple=True,
    metavar="NAME[=FILE]",
    help=f"Draw one plot as PNG, PDF or SVG: {', '.join(PLOT_NAMES)}. "
    "FILE alone draws the overview, NAME alone makes NAME.png. May be given more than once.",
)
@click.option(
    "--preview",
    type=options.EXISTING_PATH,
    metavar="FILE.png",
    help="Picture of the patch to put into the report, as measure --preview wrote it.",
)
@click.option(
    "--details",
    is_flag=True,
    help="Add channels, noise, and what each figure rests on.",
)
@click.option("--budget", is_flag=True, help="Add the uncertainty budget of each result.")
@click.option(
    "--steps",
    is_flag=False,
    flag_value="text",
    type=click.Choice(["text", "csv", "json"]),
    help="Say instead what raw development has to add per ISO label, and the noise of its values; "
    "as text, or as csv or json.",
)
@options.as_json
def show(
    profile: Path,
    report: Path | None,
    card: Path | None,
    plots: tuple[str, ...],
    preview: Path | None,
    details: bool,
    budget: bool,
    steps: str | None,
    as_json: bool,
) -> None:
    """Show a saved PROFILE as a photographer reads it."""
    from profiler.files.profile import load_profile, profile_json

    wanted = [_plot(text) for text in plots]
    if preview is not None and report is None:
        raise click.UsageError("--preview goes into a report: add --report FILE.html")
    loaded = load_profile(profile)
    if report is not None:
        _write_report(loaded, report, preview)
    if card is not None:
        from profiler.show.card import card_page

        options.write(card, card_page(loaded), f"Card written to {card}", replace=True)
    for name, path in wanted:
        from profiler.show.plots import save_plot

        options.say_kept(save_plot(loaded, name, path))
        click.echo(f"Plot written to {path}", err=True)
    if steps is not None:
        _tell_steps(loaded, "json" if as_json else steps)
        return
    if as_json:
        click.echo(profile_json(loaded), nl=False)
        return
    from profiler.show.calibration.profile import describe

    click.echo(describe(loaded, budget=budget, details=details, width=options.line_width()))
    if not (budget or details):
        click.echo("What it rests on: --details, --budget", err=True)


def _tell_steps(profile: ProfileData, form: str) -> None:
    from dataclasses import asdict

    from profiler.onset.development import development
    from profiler.show.development import development_answer, development_csv

    found = development(profile)
    if form == "json":
        options.print_json([asdict(one) for one in found])
    elif form == "csv":
        click.echo(development_csv(found), nl=False)
    else:
        options.say(development_answer(found))


def _plot(text: str) -> tuple[str, Path]:
    """Name and file of a plot: `response`, `response=a.pdf`, or `a.png` for the overview."""
    name, equals, file = text.partition("=")
    if not equals and name not in PLOT_NAMES and Path(name).suffix:
        return "overview", Path(name)
    if name not in PLOT_NAMES:
        raise click.UsageError(f"there is no plot {name!r}: use one of {', '.join(PLOT_NAMES)}")
    return name, Path(file or f"{name}.png")


def _write_report(profile: ProfileData, path: Path, preview: Path | None) -> None:
    from profiler.show.report.document import report_page

    picture = None
    if preview is not None:
        from profiler.files.regular import read_bytes

        try:
            picture = read_bytes(preview)
        except OSError as error:
            raise GreytareError(
                f"the preview can't be read ({error.strerror})",
                str(preview),
                "Give the picture that greytare measure --preview wrote",
            ) from error
    page = report_page(profile, preview=picture)
    options.write(path, page, f"Report written to {path}", replace=True)
