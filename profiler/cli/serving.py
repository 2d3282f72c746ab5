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
def serve(folder: Path, port: int, no_browser: bool) -> None:
    """Open the page for FOLDER and all below it, or for where you are.

    It holds series, result, on set, plan and check, fleet, teach.

    It answers on this machine alone, to the browser that it was opened with. Ctrl-C ends it.
    """
    from profiler.web.app import serve as answer

    def ready(address: str, handover: Path) -> None:
        click.echo(f"The page is open at {address}")
        click.echo(f"This address is good once; to come in again open {handover}")
        click.echo("Ctrl-C ends it.", err=True)
        if not no_browser:
            click.launch(str(handover))

    answer(folder, port, ready)
    click.echo("Ended.", err=True)
