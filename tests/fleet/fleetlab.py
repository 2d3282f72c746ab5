"""A lab's invented fleet: series of few levels, profiles with known offsets, workers that die."""

from __future__ import annotations

import csv
import hashlib
import json
import os
import time
from dataclasses import replace
from functools import cache
from pathlib import Path

from profiler import simulate
from profiler.calibration import pipeline
from profiler.errors import GreytareError
from profiler.files.level_table import write_table
from profiler.files.profile import profile_json
from profiler.fleet.batch.store import ABOUT_FORMAT, PROFILE, about_path
from profiler.fleet.read_rows import profile_rows
from profiler.fleet.rows import sorted_rows
from profiler.fleet.rowsfile import rows_csv
from profiler.fleet.table import load_shelf
from profiler.records import Estimate, Meter
from profiler.results import BudgetRow, ProfileData
from profiler.simulate.memory import measure_in_memory
from profiler.simulate.write import SHEET_COLUMNS, sheet_rows

METER = Meter(make="Sprig", model="Lm-3", serial="000731")
OWN_U = 0.03
"""Standard uncertainty that each statistical profile has for itself, in EV."""
REPEAT_U = 0.1 / 3**0.5
RESOLUTION_U = 0.05 / 3**0.5
U = (OWN_U**2 + REPEAT_U**2 + RESOLUTION_U**2) ** 0.5


def spec(serial: str, seed: int, **options):
    """A small series of the invented body Halden H2: one label, eight frames, one dark."""
    body = replace(simulate.load_body("halden-h2"), serial=serial)
    settings = {"labels": (400,), "size": (48, 48), "darks": 1} | options
    return simulate.standard_series(body, seed, **settings)


def levels_series(folder: Path, serial: str, seed: int, **options) -> Path:
    """Write a series as a table of levels with its sheet: measured in no time."""
    folder.mkdir(parents=True)
    plan = spec(serial, seed, **options)
    measurement, _ = measure_in_memory(plan, 0.6)
    (folder / "levels.csv").write_text(write_table(measurement))
    with (folder / "sheet.csv").open("w", newline="") as stream:
        writer = csv.DictWriter(stream, SHEET_COLUMNS, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(sheet_rows(plan))
    return folder


def levels_fleet(root: Path, bodies: int) -> Path:
    """Write so many series below a root, some one folder deeper, with serials from 000100."""
    for k in range(bodies):
        place = root / ("shelf" if k % 3 else "bench") / f"body{k:02d}"
        levels_series(place, f"{100 + k:06d}", k)
    return root


@cache
def template() -> ProfileData:
    """A profile to take others from: ISO 400, spot."""
    measurement, sheet = measure_in_memory(spec("000001", 1, pairs=True), 0.6)
    return pipeline.fit(measurement, sheet, light="daylight", meter=METER)


def profile(
    serial: str,
    offset_ev: float,
    *,
    meter: Meter = METER,
    model: str = "Halden H2",
    own_u_ev: float = OWN_U,
    **changes: object,
) -> ProfileData:
    """The template with another body, meter, offset (headroom goes with it) and plain budget."""
    base = template()
    rows = (
        budget_row("fit scatter", own_u_ev),
        budget_row("meter repeatability", REPEAT_U),
        budget_row("meter resolution", RESOLUTION_U),
    )
    u = sum(row.contribution_ev**2 for row in rows) ** 0.5
    headroom = offset_ev + base.results[0].aim_stops
    result = replace(
        base.results[0],
        offset_ev=estimate(offset_ev, u),
        clip_headroom_ev=estimate(headroom, u),
        linear_headroom_ev=estimate(headroom - 0.2, u),
        budget=rows,
        effective_dof=None,
        flags=(),
        **changes,
    )
    return replace(
        base,
        camera=replace(base.camera, serial=serial, model=model),
        meter=replace(base.meter, make=meter.make, model=meter.model, serial=meter.serial),
        results=(result,),
    )


def estimate(value: float, u: float) -> Estimate:
    """A normal estimate with its 95 % interval."""
    return Estimate(value=value, u=u, low=value - 1.959964 * u, high=value + 1.959964 * u)


def budget_row(source: str, u_ev: float) -> BudgetRow:
    """A row of type B, sensitivity 1."""
    return BudgetRow(
        source=source,
        type="B",
        distribution="normal",
        half_width_ev=None,
        u_ev=u_ev,
        sensitivity=1.0,
        dof=None,
        contribution_ev=u_ev,
        basis="invented",
    )


def with_frames(made: ProfileData, shot: str) -> ProfileData:
    """The profile as if it rested on frames of its own: the same ones for the same `shot`."""
    frames = tuple(
        replace(frame, sha256=hashlib.sha256(f"{shot} {frame.file}".encode()).hexdigest())
        for frame in made.provenance.frames
    )
    return replace(made, provenance=replace(made.provenance, frames=frames))


def keep(folder: Path, name: str, made: ProfileData, *, shot: str = "", **details: object) -> Path:
    """Write a profile with its details beside it, as a run does; shot: the name of its frames."""
    path = folder / f"{name}{PROFILE}"
    path.parent.mkdir(parents=True, exist_ok=True)
    made = with_frames(made, shot or name)
    path.write_text(profile_json(made))
    about = {"format": ABOUT_FORMAT, "version": 1, "series": name, "details": details}
    about_path(path).write_text(json.dumps(about))
    return path


def rental(folder: Path) -> Path:
    """Write the profiles of eight bodies on three days, with tolerances beside them.

    R4 is out, R6 undecided, R3 drifts, R5 was adjusted on the last day, R1 has ISO 800 as well.
    """
    days = ("2025-11-10", "2026-05-12", "2026-11-09")
    offsets = {1: -0.25, 2: -0.22, 3: -0.2, 4: 0.6, 5: -0.24, 6: 0.1, 7: -0.28, 10: -0.21}
    for number, (tag, offset) in enumerate(offsets.items(), start=1):
        serial, model = f"{number:06d}", "Halden H2" if number % 4 else "Orrin X6"
        for k, day in enumerate(days):
            seen = offset + 0.01 * ((number + k) % 3 - 1)
            seen += 0.3 * (k - 2) if tag == 3 else 0.0
            about = {"date": day, "tag": f"R{tag}"}
            name = f"profiles/{serial}/{day}"
            if tag == 5 and k == 2:
                found = profile(serial, 0.5, model=model, own_u_ev=0.01)
                keep(folder, f"{name}-found", found, state="as-found", **about)
                about["state"] = "as-left"
            keep(folder, name, profile(serial, seen, model=model, own_u_ev=0.01), **about)
    keep(
        folder,
        f"profiles/000001/{days[-1]}-800",
        profile("000001", -0.24, iso=800),
        date=days[-1],
        tag="R1",
    )
    (folder / "limits.toml").write_text("[tolerances]\noffset_ev = {low = -0.65, high = 0.15}\n")
    return folder


def crash_if_negative(number: int) -> int:
    """A task that kills its worker for negative numbers, and doubles others."""
    if number < 0:
        os._exit(3)
    return 2 * number


def crash_once(marker: str) -> str:
    """A task whose worker dies the first time only."""
    path = Path(marker)
    if path.exists():
        return "done"
    path.write_text("")
    os._exit(3)


def divide(number: int) -> float:
    """A task with a bug."""
    return 1 / number


def slow_double(number: int) -> int:
    """A task that takes a moment."""
    time.sleep(0.05)
    return 2 * number


def crashing_report(made: ProfileData) -> str:
    """A report that kills the process for one body, as a decoder might."""
    if made.camera.serial == "000101":
        os._exit(4)
    return f"<p>{made.camera.serial}</p>"


def slow_report(made: ProfileData) -> str:
    """A report that takes a moment."""
    time.sleep(0.2)
    return f"<p>{made.camera.serial}</p>"


def buggy_report(made: ProfileData) -> str:
    """A report with a bug."""
    return str(1 / (len(made.results) - 1))


def read_profiles(paths, *, below: Path):
    """The rows of all profiles, each read anew, sorted; path -> error for those that can't be."""
    rows, wrong = [], {}
    for path in paths:
        try:
            rows += profile_rows(path, below=below)
        except GreytareError as error:
            wrong[path] = error
    return sorted_rows(rows), wrong


def table_of(out: Path) -> str:
    """The table of a run's results as CSV."""
    return rows_csv(load_rows(out)[0])


def results_of(out: Path) -> dict[str, str]:
    """All that a run leaves, file by file, but for the moment at which a profile was made."""
    left = {"table": table_of(out), "errors": (out / "errors.json").read_text()}
    for path in sorted(out.rglob("*.profile.json")):
        held = json.loads(path.read_text())
        held["provenance"].pop("created")
        left[path.relative_to(out).as_posix()] = json.dumps(held)
    return left


def load_rows(source, assets=None):
    """The rows of a source, and path -> error of profiles that can't be read."""
    shelf = load_shelf(source, assets)
    return shelf.rows, shelf.wrong
