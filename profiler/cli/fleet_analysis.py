"""The commands `fleet decide`, `fleet compare`, `fleet drift`."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from dataclasses import asdict, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from profiler.cli import fleet_options, options
from profiler.errors import GreytareError
from profiler.files.csv_text import safe_cell

if TYPE_CHECKING:
    from profiler.fleet.decide import Judged
    from profiler.fleet.rows import Row


@options.example("greytare fleet decide results --tolerances limits.toml --out verdicts.csv")
@click.command()
@fleet_options.source
@click.option(
    "--tolerances",
    "tolerances_path",
    type=options.EXISTING_PATH,
    required=True,
    metavar="T.toml",
    help="Limits per quantity, decision rule, interval of checks.",
)
@fleet_options.today
@fleet_options.assets
@click.option(
    "--out", type=options.EXISTING_PATH, metavar="FILE.csv", help="Write every verdict as CSV."
)
@options.replace
@options.as_json
@click.pass_context
def decide(
    ctx: click.Context,
    source: str,
    tolerances_path: Path,
    today: str | None,
    assets: Path | None,
    out: Path | None,
    replace: bool,
    as_json: bool,
) -> None:
    """Decide for each body: in, out or undecided.

    Each verdict has the probability that the body conforms. The latest result counts, as-left after
    as-found; a verdict expires after the interval from the day of shooting. Who has no result is
    listed too. Exit code 0: all are in; 3: some aren't.
    """
    from profiler.files.atomic import write_whole
    from profiler.fleet.absent import absent_bodies
    from profiler.fleet.decide import adjustments, body_verdicts, judge
    from profiler.fleet.rules import describe
    from profiler.show.fleet.decide import verdict_answer

    tolerances = fleet_options.read_limits(tolerances_path)
    shelf = fleet_options.load(source, assets)
    day = fleet_options.day(today)
    if not any(text <= day.isoformat() for text in shelf.rows.text("date").used):
        raise GreytareError(f"no result is from {day} or before", source, "Give a later day --on")
    judged = judge(shelf.rows, tolerances, day)
    verdicts = body_verdicts(judged)
    absent = absent_bodies(
        shelf.rows,
        verdicts,
        day,
        left=shelf.left,
        wrong={str(path): error for path, error in shelf.wrong.items()},
    )
    pairs = adjustments(judged)
    flat = [_verdict(one) for one in judged] if out is not None or as_json else []
    if out is not None:
        write_whole(out, _csv(flat), replace=replace)
        click.echo(f"{len(flat)} verdicts written to {out}", err=True)
    if as_json:
        options.print_json(
            {
                "rule": describe(tolerances.rule),
                "day": day.isoformat(),
                "bodies": [
                    _body(one) | {"verdict": one.verdict, "expired": one.expired}
                    for one in verdicts
                ],
                "absent": [
                    _body(one) | {"series": one.series, "reason": one.reason, "why": one.why}
                    for one in absent
                ],
                "verdicts": flat,
                "adjustments": [
                    _identity(pair.found.row)
                    | {
                        "quantity": pair.found.quantity,
                        "found_ev": pair.found.value_ev,
                        "found_verdict": pair.found.verdict,
                        "left_ev": pair.left.value_ev,
                        "left_verdict": pair.left.verdict,
                        "change_ev": pair.change_ev,
                        "u_ev": pair.u_ev,
                    }
                    for pair in pairs
                ],
            }
        )
    else:
        options.say(verdict_answer(verdicts, tolerances, pairs, absent=absent))
    if absent or any(one.verdict != "in" or one.expired for one in verdicts):
        ctx.exit(fleet_options.SOME)


@options.example("greytare fleet compare results --body 0004217 --against 0004218")
@click.command()
@fleet_options.source
@click.option("--body", metavar="NAME", help="Serial or tag of a body to hold against another.")
@click.option("--against", metavar="NAME", help="The other body.")
@click.option("--meters", is_flag=True, help="Several meters on each body instead.")
@fleet_options.quantity
@fleet_options.common
@fleet_options.assets
@fleet_options.plot
@options.as_json
def compare(
    source: str,
    body: str | None,
    against: str | None,
    meters: bool,
    quantity: str,
    common: float,
    assets: Path | None,
    plot: Path | None,
    as_json: bool,
) -> None:
    """Compare bodies, or meters.

    A body is held against the median of its model, or two against each other, or several meters on
    one body. Errors that two results have in common, such as those of one meter, cancel in a
    difference.
    """
    from profiler.fleet.compare import compare_bodies, compare_meters
    from profiler.fleet.models import compare_models
    from profiler.show.fleet.compare import difference_answer, model_answer, named_groups
    from profiler.show.fleet.words import Cases

    if (body is None) != (against is None) or (meters and body is not None):
        raise click.UsageError("Give --body with --against, or --meters, or neither.")
    rows = fleet_options.load(source, assets).rows
    sharing = fleet_options.share(common)
    if (body is not None and against is not None) or meters:
        if plot is not None:
            raise click.UsageError("--plot draws bodies against the median of their model.")
        if meters:
            found = compare_meters(rows, quantity, sharing)
            if not found:
                raise GreytareError(
                    "no body was measured by two meters", source, "Compare bodies instead"
                )
        else:
            found = compare_bodies(rows, body or "", against or "", quantity, sharing)
        if as_json:
            options.print_json([_difference(one) for one in found])
        else:
            options.say(difference_answer(found, Cases(rows), meters=meters))
        return
    groups = compare_models(rows, quantity, sharing)
    if plot is not None:
        from profiler.show.fleet.plots import model_figure
        from profiler.show.plots import save_figure

        if not any(group.deviations for group in groups):
            raise GreytareError(
                "no model has two bodies, so there is nothing to draw", source, "Leave out --plot"
            )
        save_figure(model_figure(max(groups, key=lambda group: len(group.deviations))), plot)
    if as_json:
        options.print_json([_group(group) for group in groups])
        return
    named = named_groups(groups, Cases(rows))
    for i, each in enumerate(named.items()):
        if i:
            click.echo()
        options.say(model_answer(*each))


@options.example("greytare fleet drift results --tolerances limits.toml")
@click.command()
@fleet_options.source
@click.option("--body", metavar="NAME", help="Serial or tag of one body. Default: all.")
@fleet_options.quantity
@fleet_options.common
@fleet_options.tolerances
@fleet_options.assets
@fleet_options.plot
@options.as_json
def drift(
    source: str,
    body: str | None,
    quantity: str,
    common: float,
    tolerances_path: Path | None,
    assets: Path | None,
    plot: Path | None,
    as_json: bool,
) -> None:
    """Follow bodies over time.

    Trend, control limits, what changed, when to check again. How well the bench repeats is learnt
    from all histories; a trend counts where at most 5 % of those that count are chance. A body's
    answer is the same with --body and without.
    """
    from profiler.fleet.compare import of_body
    from profiler.fleet.drift import common_drift, histories
    from profiler.show.fleet.drift import by_need, drift_answer
    from profiler.show.fleet.words import Cases

    tolerances = None if tolerances_path is None else fleet_options.read_limits(tolerances_path)
    rows = fleet_options.load(source, assets).rows
    found = histories(rows, quantity, tolerances=tolerances, sharing=fleet_options.share(common))
    alike = common_drift(found)
    if body is not None:
        wanted = of_body(rows, body)[0].body
        found = [one for one in found if one.body == wanted]
        if not found:
            raise GreytareError(
                f"{body} has no exact {quantity} of a known day", source, "Leave out {body}"
            )
    if plot is not None:
        from profiler.show.fleet.plots import history_figure
        from profiler.show.plots import save_figure

        if body is None:
            raise click.UsageError("--plot draws one body: name it with --body.")
        save_figure(history_figure(max(found, key=lambda h: len(h.points)), tolerances), plot)
    if as_json:
        options.print_json(
            {
                "histories": [_history(one) for one in found],
                "common": [asdict(one) for one in alike],
            }
        )
        return
    ordered = sorted(found, key=by_need)
    answer = drift_answer(ordered, alike, Cases(rows), fleet_options.day(None))
    options.say(answer)


def _body(one: Any) -> dict[str, Any]:
    """Whose verdict it is; a body that is known by its tag alone has no serial."""
    make, model, serial = one.body
    return {
        "camera_make": make,
        "camera_model": model,
        "camera_serial": "" if serial.startswith("tag ") else serial,
        "asset_tag": one.asset_tag,
    }


def _identity(row: Row) -> dict[str, Any]:
    names = (
        "asset_tag camera_make camera_model camera_serial lens_model meter_serial iso mode light"
    )
    names += " date state series"
    return {name: getattr(row, name) for name in names.split()}


def _plain(values: dict[str, Any], *without: str) -> dict[str, Any]:
    return {name: value for name, value in values.items() if name not in without}


def _shallow(one: Any, *without: str) -> dict[str, Any]:
    names = (field.name for field in fields(one))
    return {name: getattr(one, name) for name in names if name not in without}


def _verdict(one: Judged) -> dict[str, Any]:
    row = one.row
    return (
        _identity(row)
        | _shallow(one, "row")
        | {"meter_certificate_expired": row.certificate_expired, "stale": row.stale}
    )


def _difference(one: Any) -> dict[str, Any]:
    sides = {"a": _identity(one.a), "b": _identity(one.b)}
    return sides | _plain(asdict(one), "a", "b") | {"significant": one.significant}


def _group(group: Any) -> dict[str, Any]:
    return _plain(asdict(group), "deviations", "bounds", "only") | {
        "deviations": [_identity(one.row) | _plain(asdict(one), "row") for one in group.deviations],
        "bounds": [_identity(row) for row in group.bounds],
    }


def _history(one: Any) -> dict[str, Any]:
    plain = _shallow(one, "points")
    for name in ("trend", "bench"):
        part = plain[name]
        if part is not None:
            plain[name] = {n: None if v == math.inf else v for n, v in _shallow(part).items()}
    return plain | {
        "points": [
            _shallow(point, "row")
            | {"date": point.row.date, "series": point.row.series, "state": point.row.state}
            for point in one.points
        ]
    }


def _csv(rows: Sequence[dict[str, Any]]) -> str:
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, fieldnames=list(rows[0]), lineterminator="\n")
    writer.writeheader()
    for row in rows:
        cells = {k: safe_cell(v) if isinstance(v, str) else v for k, v in row.items()}
        writer.writerow({k: "" if v is None else v for k, v in cells.items()})
    return out.getvalue()
