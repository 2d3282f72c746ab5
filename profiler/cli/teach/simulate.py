"""The command `simulate`."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from profiler.cli import options, progress
from profiler.records import MODES

if TYPE_CHECKING:
    from profiler.simulate.hidden import Difficulty


def _size(_: click.Context, __: click.Parameter, text: str) -> tuple[int, int]:
    width, _x, height = text.lower().partition("x")
    if not (width.isdigit() and height.isdigit()):
        raise click.BadParameter("write WIDTHxHEIGHT in pixels, for example 480x320")
    return int(width), int(height)


@options.example("greytare simulate window-card --seed 4 --pairs --darks 2 --fault cloud=0.5")
@click.command()
@click.argument("out_dir", type=options.EXISTING_PATH, required=False)
@click.option("--seed", type=int, default=1, show_default=True, help="Same seed, same bytes.")
@click.option(
    "--body",
    default="halden-h2",
    show_default=True,
    metavar="NAME|FILE.toml",
    help="A shipped body (halden-h2, orrin-x6, merle-m1) or a TOML file of your own.",
)
@click.option(
    "--fault",
    "faults",
    multiple=True,
    metavar="NAME[=SIZE]",
    help="Build in a fault; may be given several times. --faults lists them.",
)
@click.option("--faults", "list_faults", is_flag=True, help="List the faults and stop.")
@options.isos(100, 200, 400)
@click.option(
    "--mode", type=click.Choice(MODES), multiple=True, default=("spot",), show_default=True
)
@click.option("--frames", type=int, default=8, show_default=True, help="Exposures per ISO label.")
@click.option("--pairs", is_flag=True, help="Shoot each exposure twice.")
@click.option("--darks", type=int, default=1, show_default=True, help="Dark frames per ISO label.")
@click.option("--scatter", type=float, default=0.0, show_default=True, help="Shutter scatter, EV.")
@click.option("--size", callback=_size, default="480x320", show_default=True)
@click.option(
    "--compression", type=click.Choice(["none", "lossless"]), default="lossless", show_default=True
)
@click.option(
    "--light-levels",
    type=int,
    metavar="N",
    help="Shoot the card at so many light levels instead, three frames each, for greytare meter.",
)
@click.option(
    "--meter-bend",
    type=float,
    default=0.0,
    show_default=True,
    help="How far that meter strays over its range, EV.",
)
@click.option(
    "--lens",
    "lenses",
    multiple=True,
    metavar="NAME=STOPS",
    help="Shoot through this lens too, which loses so many stops more, for greytare lens.",
)
@click.option(
    "--hidden",
    type=click.IntRange(0),
    metavar="SEED",
    help="Hide one to three faults, and write no truth.",
)
@click.option(
    "--difficulty",
    type=click.Choice(["easy", "middle", "hard"]),
    default="middle",
    show_default=True,
    help="How large hidden faults are, and how many.",
)
@click.option(
    "--students",
    type=click.IntRange(1),
    metavar="N",
    help="With --hidden: a folder for each of N students, and task sheets to print.",
)
@click.option(
    "--key",
    type=options.EXISTING_PATH,
    metavar="KEY.html",
    help="With --hidden: the key as a page to print.",
)
@click.option("--reveal", is_flag=True, help="With --hidden: tell what is wrong.")
@click.option("--replace", is_flag=True, help="Take an earlier series in OUT_DIR away first.")
def simulate(
    out_dir: Path | None,
    seed: int,
    body: str,
    faults: tuple[str, ...],
    list_faults: bool,
    isos: tuple[int, ...],
    mode: tuple[str, ...],
    frames: int,
    pairs: bool,
    darks: int,
    scatter: float,
    size: tuple[int, int],
    compression: str,
    light_levels: int | None,
    meter_bend: float,
    lenses: tuple[str, ...],
    hidden: int | None,
    difficulty: Difficulty,
    students: int | None,
    key: Path | None,
    reveal: bool,
    replace: bool,
) -> None:
    """Write raw files of a simulated body to OUT_DIR, with sheet.csv and the truth.

    truth.json holds what a calibration should find. With --hidden nothing in the files tells what
    is wrong; the same seed hides the same.
    """
    from profiler import simulate as simulator
    from profiler.simulate.faults import with_faults

    if list_faults:
        for name, fault in simulator.FAULTS.items():
            one = {"frames": "frame", "bits": "bit"} if fault.size == 1.0 else {}
            unit = one.get(fault.unit, fault.unit)
            amount = f"{fault.size:g} {unit}" if unit else ""
            click.echo(f"{name:24} {amount:28} {fault.what}")
        return
    if hidden is None and (students is not None or key is not None or reveal):
        raise click.UsageError("--students, --key and --reveal go with --hidden SEED.")
    if hidden is not None:
        from profiler.cli.hiding import hide

        if faults:
            raise click.UsageError("Give --hidden or --fault: what is named isn't hidden.")
        hide(
            out_dir,
            hidden,
            difficulty,
            students,
            key,
            reveal=reveal,
            size=size,
            compression=compression,
            replace=replace,
        )
        return
    if out_dir is None:
        raise click.UsageError("Missing argument 'OUT_DIR'.")
    held = simulator.load_body(_file_or_name(body))
    common: dict[str, Any] = {
        "shutter_scatter_ev": scatter,
        "size": size,
        "compression": compression,
    }
    if lenses:
        spec = simulator.lens_series(
            held,
            seed,
            {held.lens: 0.0} | dict(_loss(text) for text in lenses),
            iso=min(isos),
            **common,
        )
    elif light_levels is not None:
        spec = simulator.meter_series(
            held,
            seed,
            levels=light_levels,
            meter=simulator.HandMeter(bend_ev=meter_bend),
            mode=mode[0],
            iso=min(isos),
            **common,
        )
    else:
        spec = simulator.standard_series(
            held,
            seed,
            labels=tuple(sorted(set(isos))),
            mode=mode,
            frames_per_label=frames,
            pairs=pairs,
            darks=darks,
            **common,
        )
    spec = with_faults(spec, faults)
    with progress.frame_bar("writing") as update:
        written = simulator.write_series(spec, out_dir, update, overwrite=replace)
    click.echo(f"{len(written.frames)} raw files, {written.sheet} and {written.truth.name}")


def _loss(text: str) -> tuple[str, float]:
    name, _, stops = text.rpartition("=")
    try:
        loss = float(stops)
    except ValueError:
        loss = math.nan
    if not name.strip() or not -3.0 <= loss <= 10.0:
        raise click.BadParameter(f"{text!r}: write NAME=STOPS, such as 'Orla 85=0.3'")
    return name.strip(), loss


def _file_or_name(text: str) -> str | Path:
    return Path(text) if text.endswith(".toml") or "/" in text else text
