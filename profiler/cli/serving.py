"""The command `serve`."""

from __future__ import annotations

from pathlib import Path

import click


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
def serve(folder: Path, port: int, no_browser: bool, phone: bool, address: str | None) -> None:
    """Open the page for FOLDER and all below it, or for where you are.

    It holds series, result, on set, plan and check, fleet, teach.

    It answers on this machine alone, to the browser that it was opened with; with --phone to
    phones on the network instead. Ctrl-C ends it.
    """
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


def _to_phones(folder: Path, port: int, address: str | None) -> None:
    from profiler.web.app import serve_phones

    def ready(risk: str, link: str, code: str) -> None:
        click.echo(risk)
        click.echo(f"The page is open at {link}")
        click.echo(code)
        click.echo("Ctrl-C ends it.", err=True)

    serve_phones(folder, address, port, ready)
    click.echo("Ended.", err=True)
