"""The command `follow`."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from profiler.cli import options
from profiler.records import MODES

if TYPE_CHECKING:
    from profiler.files.sheet import Sheet
    from profiler.follow.records import Growing
    from profiler.follow.series import Follow

_PAUSE_S = 0.1
_PATIENT = 4.0
"""A folder on a slow network is looked at in a quarter of the time at most."""


@options.example("""\
greytare follow window-card --iso 100,400 --reading "EV 10.3" \\
  --light daylight --out halden.profile.json""")
@click.command()
@click.argument("folder", type=options.EXISTING_PATH)
@click.option(
    "--out",
    type=options.EXISTING_PATH,
    metavar="BODY.profile.json",
    help="Fit at the end and write the profile here.",
)
@options.isos()
@click.option(
    "--reading", default="", metavar="READING", help="What the meter showed, for all frames."
)
@click.option(
    "--mode", type=click.Choice(MODES), default="spot", show_default=True, help="How it was read."
)
@options.sheet
@click.option("--short", is_flag=True, help="About half as many settings, as in plan.")
@click.option(
    "--copies", type=click.IntRange(1), default=2, show_default=True, help="Of each setting."
)
@click.option(
    "--darks",
    type=click.IntRange(0),
    default=2,
    show_default=True,
    help="Lens-cap frames a label.",
)
@options.light
@options.aim
@options.meter
@options.patch
@options.allow_8bit
@options.replace
@options.as_json
def follow(
    folder: Path,
    out: Path | None,
    isos: tuple[int, ...],
    sheet_path: Path | None,
    light: str,
    aim: str,
    meter: Path | None,
    patch: str,
    allow_8bit: bool,
    replace: bool,
    as_json: bool,
    **asked: Any,
) -> None:
    """Measure frames as they arrive in FOLDER and say what is missing or wrong.

    Half-copied files are waited for. Readings come from a sheet that may grow meanwhile, or from
    --reading. With --iso it ends when nothing of the plan of these labels is missing, else with
    Ctrl-C; then, with --out, it fits.
    """
    from profiler.exposure.aims import parse_aim
    from profiler.files.atomic import check_output
    from profiler.follow.records import FollowAsk
    from profiler.follow.series import Follow

    aim_stops = parse_aim(aim)
    if out is not None:
        check_output(out, replace=replace)
    series = Follow(
        folder,
        FollowAsk(isos=tuple(sorted(set(isos))), **asked),
        sheet=sheet_path,
        patch=patch,
        meter=options.meter_in(meter),
        allow_8bit=allow_8bit,
    )
    try:
        _watch(series, to_stderr=as_json)
        series.keep_patch()
        sheet = series.sheet()
        state = series.state()
    finally:
        series.close()
    if out is None:
        click.echo("Nothing is written: --out BODY.profile.json fits at the end.", err=True)
        return
    _fit(series, sheet, state, light, aim_stops, meter, patch, allow_8bit, out, replace, as_json)


def _watch(series: Follow, *, to_stderr: bool) -> None:
    """Print each frame and each new answer until the plan is done, or Ctrl-C."""
    from profiler.show.follow import follow_answer, point_words

    click.echo(f"Following {series.folder}; Ctrl-C ends it.", err=True)
    told: set[str] = set()
    last = ""
    try:
        while True:
            began = time.monotonic()
            changed = series.look()
            if changed or not last:
                state = series.state()
                files = {point.file for label in state.labels for point in label.points}
                for file in sorted((files | set(state.caps) | set(state.unread)) - told):
                    click.echo(f"{file}  {point_words(state, file)}", err=to_stderr)
                    told.add(file)
                answer = follow_answer(state)
                said = "\n".join(
                    [f"  {answer.headline}", *(f"  {line}" for line in answer.lead)]
                    + [f"  ! {note.text}" for note in answer.notes if note.warns]
                    + ([] if answer.waits else [f"  ! Missing: {each}" for each in answer.missing])
                )
                if said != last:
                    click.echo(said, err=to_stderr)
                    last = said
                if state.complete and state.planned:
                    return
            time.sleep(max(_PAUSE_S, _PATIENT * (time.monotonic() - began) * (not changed)))
    except KeyboardInterrupt:
        click.echo("", err=True)


def _fit(
    series: Follow,
    sheet: Sheet,
    state: Growing,
    light: str,
    aim_stops: float,
    meter: Path | None,
    patch: str,
    allow_8bit: bool,
    out: Path,
    replace: bool,
    as_json: bool,
) -> None:
    """Fit what has come, write the profile, and a sheet where there was none."""
    from profiler.calibration import pipeline
    from profiler.files.atomic import write_whole
    from profiler.files.profile import profile_json, save_profile
    from profiler.files.sheet import new_sheet, read_sheet
    from profiler.show.calibration.profile import describe

    written = not series.sheet_path.exists()
    if written:
        rows = [{"file": r.file, "reading": r.reading_text, "mode": r.mode} for r in sheet.rows]
        write_whole(series.sheet_path, new_sheet(rows), replace=False)
        click.echo(f"Sheet written to {series.sheet_path}", err=True)
        sheet = read_sheet(series.sheet_path)
    measurement = pipeline.measure(series.folder, sheet, patch=patch, allow_8bit=allow_8bit)
    profile = pipeline.fit(
        measurement,
        sheet,
        light=light,
        aim=aim_stops,
        meter=options.meter_in(meter),
    )
    if not written and state.caps:
        click.echo(
            f"To fit again, write dark for {', '.join(state.caps)} into {series.sheet_path}.",
            err=True,
        )
    options.say_kept(save_profile(profile, out, replace=replace))
    if as_json:
        click.echo(profile_json(profile), nl=False)
    else:
        click.echo(describe(profile, details=False, width=options.line_width()))
    click.echo(f"Profile written to {out}", err=True)
