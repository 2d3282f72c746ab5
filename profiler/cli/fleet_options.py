"""Options that the commands of `fleet` share."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from profiler.cli import options
from profiler.cli.main import option
from profiler.errors import GreytareError
from profiler.fleet.correlation import METERED

if TYPE_CHECKING:
    from profiler.fleet.correlation import Correlation
    from profiler.fleet.table import Shelf
    from profiler.fleet.tolerances import Tolerances

source = click.argument("source")
assets = click.option(
    "--assets",
    type=options.EXISTING_PATH,
    metavar="ASSETS.csv",
    help="Your own tags: a CSV with the columns serial, tag.",
)
tolerances = click.option(
    "--tolerances",
    "tolerances_path",
    type=options.EXISTING_PATH,
    metavar="T.toml",
    help="Limits per quantity, decision rule, interval of checks.",
)
quantity = click.option(
    "--quantity",
    type=click.Choice(METERED),
    default=METERED[0],
    show_default=True,
    help="What to look at.",
)
common = click.option(
    "--common",
    type=click.FloatRange(0.0, 1.0),
    default=0.5,
    show_default=True,
    metavar="PART",
    help="Part of the variance of a meter's repeatability that all its readings share.",
)
today = click.option(
    "--on", "today", metavar="DATE", help="Day to judge on, as 2026-03-01. Default: today."
)
plot = click.option(
    "--plot", type=options.EXISTING_PATH, metavar="FILE.png", help="Draw it (PNG, PDF or SVG)."
)


SOME = 3
"""Exit code where not all is in."""


def load(source: str, assets: Path | None) -> Shelf:
    """Return the rows of a source with who is missing; what can't be read, or used, is said."""
    from profiler.fleet.table import load_shelf

    tags = read_tags(assets)
    shelf = load_shelf(source, tags)
    for error in shelf.wrong.values():
        click.echo(f"greytare: {error.said(option)}", err=True)
    if not shelf.rows:
        raise GreytareError("it holds no result that can be read", source, "Give good profiles")
    for serial, near in shelf.lost_zeros(tags or {}).items():
        click.echo(
            f"{assets}: no body has the serial {serial}, but {near} is one: did a spreadsheet take "
            f"its zeros? Write {near} there, as text, to give it the tag.",
            err=True,
        )
    return shelf


def read_tags(path: Path | None) -> dict[str, str] | None:
    """Return serial -> tag from a list of assets, None without one."""
    from profiler.fleet.details import read_assets

    return None if path is None else read_assets(path, options.tell)


def read_limits(path: Path) -> Tolerances:
    """Return the tolerances in a file."""
    from profiler.fleet.tolerances import read_tolerances

    return read_tolerances(path)


def share(common: float) -> Correlation:
    """Return what results of one meter have in common."""
    from profiler.fleet.correlation import Correlation

    return Correlation(repeatability=common)


def day(text: str | None) -> date:
    """Return the day that was given, else today."""
    from profiler.fleet.details import check_date

    if text is None:
        return datetime.now(UTC).date()
    return date.fromisoformat(check_date(text, "--on"))
