"""The command `serve`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from profiler.cli import options

if TYPE_CHECKING:
    from profiler.simulate.hidden import Difficulty


@options.example("greytare serve calibrations")
@click.command()
@click.argument(
    "folder", type=click.Path(path_type=Path, file_okay=False), default=Path(), metavar="[FOLDER]"
)
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=0,
    metavar="N",
    help="Port to answer under. Default: any free one.",
)
@click.option("--no-browser", is_flag=True, help="Print the address, open no browser.")
@click.option(
    "--phone",
    is_flag=True,
    help="Offer phones on this network the answers on set, and a new sheet to write; nothing else.",
)
@click.option(
    "--address",
    metavar="ADDRESS",
    help="Address of this machine that phones reach. Default: that of the network in use.",
)
@click.option(
    "--teach",
    "students",
    type=click.IntRange(1, 200),
    metavar="N",
    help="With --phone: a class of N students instead, each with a link and a hidden fault.",
)
@click.option(
    "--hidden", "seed", type=click.IntRange(0), metavar="SEED", help="With --teach: same faults."
)
@click.option(
    "--difficulty",
    type=click.Choice(["easy", "middle", "hard"]),
    default="middle",
    show_default=True,
    help="With --teach: how large the faults are, and how many.",
)
def serve(
    folder: Path,
    port: int,
    no_browser: bool,
    phone: bool,
    address: str | None,
    students: int | None,
    seed: int | None,
    difficulty: Difficulty,
) -> None:
    """Open the page for FOLDER and all below it, or for where you are.

    It holds series, result, on set, plan and check, fleet, teach.

    It answers on this machine alone, to the browser that it was opened with; with --phone to
    phones on the network instead. Ctrl-C ends it.
    """
    if students is not None:
        if not phone:
            raise click.UsageError("--teach goes with --phone: a class comes over the network")
        _to_class(students, seed, difficulty, address, port)
        return
    if seed is not None:
        raise click.UsageError("--hidden goes with --teach")
    if phone:
        _to_phones(folder, port, address)
        return
    if address is not None:
        raise click.UsageError("--address goes with --phone")
    from profiler.web.app import serve as answer

    def ready(address: str, handover: Path) -> None:
        click.echo(f"The page is open at {address}")
        click.echo(f"This address is good once; to come in again open {handover}")
        click.echo("Ctrl-C ends it.", err=True)
        if not no_browser:
            click.launch(str(handover))

    answer(folder, port, ready)
    click.echo("Ended.", err=True)


def _to_class(
    students: int, seed: int | None, difficulty: Difficulty, address: str | None, port: int
) -> None:
    import secrets

    from profiler.web.app import serve_class

    seed = secrets.randbelow(2**31) if seed is None else seed

    def ready(risk: str, link: str) -> None:
        click.echo(risk)
        click.echo(f"The teacher's page is open at {link}")
        click.echo("It holds the students' links; keep this one to yourself.")
        click.echo(
            f"The key: greytare simulate --hidden {seed} --difficulty {difficulty} "
            f"--students {students} --reveal"
        )
        click.echo("Ctrl-C ends it.", err=True)

    serve_class(address, port, students, seed, difficulty, ready)
    click.echo("Ended.", err=True)


def _to_phones(folder: Path, port: int, address: str | None) -> None:
    from profiler.web.app import serve_phones

    def ready(risk: str, link: str, code: str) -> None:
        click.echo(risk)
        click.echo(f"The page is open at {link}")
        click.echo(code)
        click.echo("Ctrl-C ends it.", err=True)

    serve_phones(folder, address, port, ready)
    click.echo("Ended.", err=True)
