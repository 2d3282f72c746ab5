"""The command `demo`."""

from __future__ import annotations

from pathlib import Path

import click

from profiler.cli import options, progress


@options.example("greytare demo my-demo")
@click.command()
@click.argument("out_dir", type=options.EXISTING_PATH, default=Path("greytare-demo"))
@click.option("--replace", is_flag=True, help="Make the demo again in the same folder.")
def demo(out_dir: Path, replace: bool) -> None:
    """Calibrate an invented body with an invented meter, from raw files made on the spot."""
    from profiler.calibration import pipeline
    from profiler.files.profile import save_profile
    from profiler.files.sheet import read_sheet
    from profiler.records import Meter
    from profiler.show.calibration.profile import describe
    from profiler.show.plots import save_overview
    from profiler.simulate.demo import check_new, demo_spec, write_demo

    check_new(out_dir, overwrite=replace)
    click.echo(STORY)
    with progress.frame_bar("shooting") as update:
        written = write_demo(out_dir, update, overwrite=replace)
    spec, series = demo_spec(), written.folder
    click.echo(f"Shot {len(written.frames)} raw files into {series}")
    sheet = read_sheet(written.sheet)
    preview = out_dir / "patch.png"
    with progress.frame_bar("measuring") as update:
        measurement = pipeline.measure(series, sheet, preview=preview, progress=update)
    meter = Meter(
        make=spec.meter.make,
        model=spec.meter.model,
        serial=spec.meter.serial,
        k_cd_m2=spec.meter.k_cd_m2,
        c_flat_lx=spec.meter.c_flat_lx,
        c_dome_lx=spec.meter.c_dome_lx,
    )
    profile = pipeline.fit(measurement, sheet, light="daylight", meter=meter)
    saved = out_dir / "halden-h2.profile.json"
    save_profile(profile, saved, replace=replace)
    picture = out_dir / "halden-h2.png"
    save_overview(profile, picture)
    click.echo(f"\n{describe(profile, details=False, width=options.line_width())}\n")
    click.echo(f"Profile  {saved}\nPicture  {picture}\nPatch    {preview}")
    click.echo(
        f'\nNext: greytare settings {saved} "EV 12.3" --iso 400 --aperture f/5.6'
        f"\n      greytare serve {out_dir}"
    )


STORY = """\
Ilse's rental counter in the harbour district has a new body, the Halden H2, and one spot
meter, the Sprig. Before it goes out she shoots a grey card by the north window: two frames at
every shutter time from deep shadow to well past clipping, at three ISO labels, and two with the
lens cap on. The meter's reading stands in sheet.csv.
"""
