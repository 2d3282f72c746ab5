"""The command group `fleet`: many bodies at once."""

from __future__ import annotations

import click

from profiler.cli import fleet_analysis, fleet_batch, options


@options.example("greytare fleet run shelf --out results --light daylight")
@click.group()
def fleet() -> None:
    """Many bodies: run a batch, table, decide, compare, drift, record.

    SOURCE is a folder of profiles, a table (.csv, .parquet, .sqlite) or the URL of a database.
    """


for _command in (
    fleet_batch.run,
    fleet_batch.table,
    fleet_analysis.decide,
    fleet_analysis.compare,
    fleet_analysis.drift,
    fleet_batch.record,
):
    fleet.add_command(_command)
