"""The command `convert`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from profiler.cli import onset_options, options
from profiler.records import MODES


@options.example('greytare convert "650 lx"')
@click.command()
@click.argument("quantity", nargs=-1, required=True)
@click.option("--iso", type=float, default=100.0, show_default=True, help="ISO for settings.")
@click.option("--mode", type=click.Choice(MODES), help="How a reading was taken: which constant.")
@options.meter
@click.option("--k", "k_cd_m2", type=float, help="Meter constant K in cd/m2.")
@click.option("--c", "c_lx", type=float, help="Meter constant C in lx, of dome and flat alike.")
@click.option(
    "--apex",
    "zero",
    type=click.Choice(["exif", "asa"]),
    default="exif",
    show_default=True,
    help="Whose zero APEX speed and brightness values have.",
)
@options.as_json
def convert(quantity: tuple[str, ...], meter: Path | None, as_json: bool, **asked: Any) -> None:
    """Show all that QUANTITY stands for: EV, lx, fc, cd/m2, fL, f/t/ISO; marks; filters; APEX.

    Examples: EV 12.0 | 650 lx | f/8 1/125 ISO 100 | f/11 | 1/60 | ND 0.9 | factor 8 | 18 % | Bv 5
    """
    from profiler.onset.convert import ConvertAsk, converted
    from profiler.show.onset.convert import convert_answer

    ask = ConvertAsk(quantity=" ".join(quantity), **asked)
    found = converted(ask, options.meter_in(meter))
    onset_options.tell(found, lambda: convert_answer(found), as_json)
