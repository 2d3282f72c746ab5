"""The commands `fleet run`, `fleet table`, `fleet record`."""

from __future__ import annotations

import json
import shlex
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from profiler.cli import fleet_options, options
from profiler.errors import GreytareError

if TYPE_CHECKING:
    from profiler.fleet.batch.run import Summary


@options.example("greytare fleet run shelf --out results --light daylight --jobs 2")
@click.command()
@click.argument("root", type=options.EXISTING_PATH)
@click.option(
    "--out", type=options.EXISTING_PATH, required=True, metavar="DIR", help="For results."
)
@click.option(
    "--jobs",
    type=click.IntRange(1),
    default=None,
    metavar="N",
    help="Series measured at once, a process each. Default: one a core.",
)
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Scheduler of a dask.distributed cluster, such as tcp://host:8786, to do the work.",
)
@options.light
@options.aim
@click.option(
    "--meter",
    "meter_path",
    type=options.EXISTING_PATH,
    metavar="METER.toml",
    help="The meter of series that have no meter.toml in their folder or above it.",
)
@options.times
@click.option("--reports", is_flag=True, help="Write a report per body too.")
@options.patch
@options.allow_8bit
@options.as_json
@click.pass_context
def run(
    ctx: click.Context,
    root: Path,
    out: Path,
    jobs: int | None,
    cluster: str | None,
    light: str,
    aim: str,
    meter_path: Path | None,
    times: str,
    reports: bool,
    patch: str,
    allow_8bit: bool,
    as_json: bool,
) -> None:
    """Measure every folder below ROOT that holds a sheet.csv.

    Profiles and a list of errors (errors.json) come out; fleet table makes one table of them. A bad
    series doesn't stop the rest; a run that was stopped, however, goes on where it was when started
    again. Exit code 0: all series are in; 3: some failed or are out of reach; 1: none is in.

    A series that is renamed or deleted is archived. Where files can't be reached, the earlier
    result stands and is marked stale. DIR belongs to one ROOT.

    An asset.toml beside a sheet, or above it for several, holds in [asset] what no file says: tag,
    date, state (as-found, as-left), session, card, light, operator, lab, lab_address, place,
    temperature_c, customer, received, condition, procedure, deviations, external, authorised_by,
    meter_certificate, meter_certificate_date, meter_due, note. A meter.toml beside or above it
    names the meter.
    """
    from profiler.cli.fleet_progress import ProgressLine
    from profiler.exposure.aims import parse_aim
    from profiler.fleet.batch.run import run_fleet
    from profiler.fleet.batch.task import Settings

    if jobs is not None and cluster is not None:
        raise click.UsageError("Give --jobs or --cluster, not both.")
    settings = Settings(
        light=light,
        aim=parse_aim(aim),
        meter=options.meter_in(meter_path),
        times=times,
        patch=patch,
        allow_8bit=allow_8bit,
        report=_report() if reports else None,
    )
    with ProgressLine() as show:
        summary = run_fleet(
            root,
            out,
            jobs=jobs or 0,
            address=cluster,
            settings=settings,
            progress=show,
        )
    for folder in summary.without_sheet:
        click.echo(f"No sheet.csv beside the frames in {folder}: passed over.", err=True)
    for folder in summary.linked_again:
        click.echo(f"{folder} leads to what is looked through anyway: passed over.", err=True)
    if as_json:
        options.print_json(json.loads(json.dumps(asdict(summary), default=str)))
    else:
        click.echo("\n".join(_told(summary, out)))
    if summary.failures or summary.stale:
        ctx.exit(fleet_options.SOME if summary.measured + summary.same else 1)


def _told(summary: Summary, out: Path) -> list[str]:
    failed = len(summary.failures)
    results = "1 result" if summary.rows == 1 else f"{summary.rows} results"
    said = [
        f"{summary.series} series: {summary.measured} measured, {summary.same} done before, "
        f"{failed} failed. {results} in {out}"
    ]
    if summary.rows:
        said.append(f"As one table: greytare fleet table {shlex.quote(str(out))} --out FILE.csv")
    if failed:
        said.append(f"What failed and why: {summary.errors}")
    if summary.stale:
        said.append(
            f"Out of reach, so that earlier results stand and are marked stale: "
            f"{', '.join(summary.stale)}"
        )
    for series, other in summary.duplicates:
        said.append(f"{series} holds the frames of {other}, which counts: the same ones count once")
    for each in summary.archived:
        now = f", its frames are now {each.now}" if each.now else ""
        said.append(f"{each.series} is gone{now}: archived, not judged")
    return said


@options.example("greytare fleet table results --out fleet.csv")
@click.command()
@fleet_options.source
@click.option(
    "--out",
    metavar="PLACE",
    help="FILE.csv, FILE.parquet, FILE.sqlite or a database URL. Without it: CSV on the screen.",
)
@fleet_options.assets
@options.replace
@options.as_json
@click.pass_context
def table(
    ctx: click.Context,
    source: str,
    out: str | None,
    assets: Path | None,
    replace: bool,
    as_json: bool,
) -> None:
    """Bring all profiles into one table.

    A row is a result; SOURCE may be a table as well, to be written as another kind. Serials and
    tags stay text: leading zeros are kept. Exit code 3 where a profile can't be read.
    """
    from profiler.fleet.rowsfile import rows_csv
    from profiler.fleet.table import save_table

    shelf = fleet_options.load(source, assets)
    rows, unread = shelf.rows, shelf.wrong
    if out is not None:
        options.say_kept(save_table(rows, out, replace=replace))
        results = "1 result" if len(rows) == 1 else f"{len(rows)} results"
        click.echo(f"{results} written to {out}", err=True)
    if as_json:
        options.print_json([asdict(row) for row in rows])
    elif out is None:
        click.echo(rows_csv(rows), nl=False)
    if unread:
        ctx.exit(fleet_options.SOME)


@options.example("greytare fleet record results --out records --tolerances limits.toml")
@click.command()
@fleet_options.source
@click.option(
    "--out",
    type=options.EXISTING_PATH,
    required=True,
    metavar="PLACE",
    help="FILE.html for one profile, else a folder.",
)
@fleet_options.tolerances
@fleet_options.today
@fleet_options.assets
@options.replace
def record(
    source: str,
    out: Path,
    tolerances_path: Path | None,
    today: str | None,
    assets: Path | None,
    replace: bool,
) -> None:
    """Write records to print, a page each.

    SOURCE is a profile or a folder of them. A record holds what ISO/IEC 17025:2017, 7.8 asks for;
    what nobody wrote into asset.toml is left as a line to fill in. It is issued today, whatever day
    the verdicts are --on. It isn't an accredited certificate, and says so.
    """
    from profiler.files.atomic import write_whole
    from profiler.fleet.batch.store import PROFILE, profile_folder
    from profiler.fleet.index import find_profiles, indexed_rows
    from profiler.fleet.record import make_record
    from profiler.show.fleet.record import record_page

    place = Path(source)
    tolerances = None if tolerances_path is None else fleet_options.read_limits(tolerances_path)
    place = profile_folder(place) if place.is_dir() else place
    below = place if place.is_dir() else place.parent
    day = fleet_options.day(today)
    paths = find_profiles(place) if place.is_dir() else [place]
    tags = fleet_options.read_tags(assets)
    single = out.suffix.lower() in (".html", ".htm")
    if single and len(paths) > 1:
        raise GreytareError(
            f"{len(paths)} records don't fit into one file", str(out), "Name a folder"
        )
    fleet = indexed_rows(below)[0] if below.is_dir() else ()
    for path in paths:
        made = make_record(
            path, below=below, tolerances=tolerances, assets=tags, fleet=fleet, today=day
        )
        target = out
        if not single:
            name = path.relative_to(below).as_posix().removesuffix(PROFILE)
            target = out / f"{name}.record.html"
            target.parent.mkdir(parents=True, exist_ok=True)
        options.say_kept(write_whole(target, record_page(made), replace=replace))
    click.echo(f"{len(paths)} {'record' if len(paths) == 1 else 'records'} written to {out}")


def _report() -> Any:
    from profiler.show.report.document import report_page

    return report_page
