"""Thirty bodies of a lab: three models, three meters, five years, and what happens on a shelf.

Every series is measured and fitted from a table of levels; what differs from body to body is what
the meter said, so that the true offset of each is known.
"""

from __future__ import annotations

import re
import shutil
from datetime import date

import fleetlab
import numpy as np
import pytest

from profiler.fleet.absent import absent_bodies
from profiler.fleet.batch.run import run_fleet
from profiler.fleet.decide import adjustments, body_verdicts, judge
from profiler.fleet.drift import histories
from profiler.fleet.models import compare_models, shared_meter
from profiler.fleet.table import load_shelf
from profiler.fleet.tolerances import parse_tolerances

YEARS = (2022, 2023, 2024, 2025, 2026)
MODELS = ("Halden H2", "Orrin X6", "Tamsin R1")
SCATTER = 0.015
"""How well the bench repeats, in EV; by the budgets it is four times as much."""
TODAY = date(2026, 7, 1)
CENTRE = -0.26
LIMITS = parse_tolerances(
    "interval_days = 700\n[tolerances]\n"
    f"offset_ev = {{low = {CENTRE - 0.3}, high = {CENTRE + 0.3}}}",
    "limits.toml",
)
OUT, EDGE, UP, DOWN, FAILS_LAST, FAILS, ADJUSTED = 5, 11, 14, 22, 8, 9, 17
COPIED, RENAMED, DELETED, UNDATED, EXPIRED, OVERDUE, OUT_OF_REACH = 20, 26, 3, 12, 25, 29, 18
OFF = {OUT: [0.6] * 5, EDGE: [0.3] * 5, ADJUSTED: [0.0, 0.0, 0.0, 0.0, 0.6]}
OFF |= {UP: [-0.1, -0.05, 0.0, 0.05, 0.1], DOWN: [0.1, 0.05, 0.0, -0.05, -0.1]}
"""Body -> how far, in EV, it is from the centre in each year; 0 for the others."""


def serial(body: int) -> str:
    return f"{body:06d}"


class Lab:
    """Writes series from one table of levels, each as if shot anew."""

    def __init__(self, folder):
        first = fleetlab.levels_series(folder / "first", "SERIAL", 7)
        self.root = folder / "root"
        header, *lines = (first / "levels.csv").read_text().splitlines()
        self.header, self.lines = header, [line.split(",") for line in lines]
        self.at = {name: k for k, name in enumerate(header.split(","))}
        self.sheet = (first / "sheet.csv").read_text()
        self.reading_ev = float(re.search(r"EV ([0-9.]+)", self.sheet)[1])
        for meter in range(3):
            place = self.root / f"meter{meter}"
            place.mkdir(parents=True)
            (place / "meter.toml").write_text(f'[meter]\nmake = "Sprig"\nserial = "M{meter}"\n')

    def write(self, body: int, year: int, off_ev: float, name: str = "", **details: str):
        place = self.root / f"meter{body // 10}" / (name or f"{year}/{serial(body)}")
        place.mkdir(parents=True)
        rows = []
        for cells in self.lines:
            cells = list(cells)
            cells[self.at["sha256"]] = f"{place.name} {place.parent.name} {cells[0]}"
            cells[self.at["serial"]], cells[self.at["model"]] = serial(body), MODELS[body % 3]
            cells[self.at["taken_at"]] = "" if body == UNDATED else f"{year}-06-01T10:00:00"
            rows.append(",".join(cells))
        (place / "levels.csv").write_text("\n".join([self.header, *rows, ""]))
        said = f"EV {self.reading_ev + off_ev:.3f}"
        (place / "sheet.csv").write_text(re.sub(r"EV [0-9.]+", said, self.sheet))
        if details:
            lines = [f'{key} = "{value}"' for key, value in details.items()]
            (place / "asset.toml").write_text("\n".join(["[asset]", *lines, ""]))
        return place


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    """Root and output after two runs, the second one after what happens to a shelf in between."""
    folder = tmp_path_factory.mktemp("lab")
    made, out = Lab(folder), folder / "out"
    rng = np.random.default_rng(30)
    for body in range(30):
        for k, year in enumerate(YEARS[: 3 if body == EXPIRED else 5]):
            details = {"tag": f"R{body}"}
            if body == ADJUSTED and year == YEARS[-1]:
                details["state"] = "as-found"
            if body == OVERDUE:
                details["meter_due"] = "2025-12-31"
            off = OFF.get(body, [0.0] * 5)[k] + float(rng.normal(0.0, SCATTER))
            place = made.write(body, year, off, **details)
            if body == FAILS or (body == FAILS_LAST and year == YEARS[-1]):
                (place / "sheet.csv").write_text("file,reading,mode\n*,,\n")
    made.write(ADJUSTED, YEARS[-1], 0.0, "2026/left", state="as-left", tag=f"R{ADJUSTED}")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("profiler.fleet.batch.run.run_tasks", in_this_process)
        run_fleet(made.root, out, jobs=1)
        meter = made.root / "meter2"
        shutil.copytree(meter / "2026" / serial(COPIED), meter / "backup" / "copy")
        (meter / "2026" / serial(RENAMED)).rename(meter / "2026" / "again")
        for year in YEARS:
            shutil.rmtree(made.root / "meter0" / str(year) / serial(DELETED))
        lost = made.root / "meter1" / "2026" / serial(OUT_OF_REACH)
        shutil.rmtree(lost)
        lost.mkdir()  # as a mount that is lost
        summary = run_fleet(made.root, out, jobs=1)
    return summary, out


def in_this_process(pool, work, tasks):
    for task in tasks:
        yield task, work(task)


@pytest.fixture(scope="module")
def shelf(lab):
    return load_shelf(lab[1])


@pytest.fixture(scope="module")
def verdicts(shelf):
    return body_verdicts(judge(shelf.rows, LIMITS, TODAY))


def test_the_second_run_tells_what_happened(lab):
    summary = lab[0]
    assert len(summary.failures) == 6
    assert summary.stale == (f"meter1/2026/{serial(OUT_OF_REACH)}",)
    gone = {each.series: each.now for each in summary.archived}
    assert gone.pop(f"meter2/2026/{serial(RENAMED)}") == "meter2/2026/again"
    assert gone == {f"meter0/{year}/{serial(DELETED)}": "" for year in YEARS}
    assert summary.measured == 2  # the renamed one and the copy


def test_each_body_has_the_right_verdict(shelf, verdicts):
    right = {serial(body): "in" for body in range(30)}
    right |= {serial(OUT): "out", serial(EDGE): "undecided"}
    for body in (FAILS, DELETED):
        del right[serial(body)]
    assert {one.body[2]: one.verdict for one in verdicts} == right
    assert {one.body[2] for one in verdicts if one.expired} == {serial(EXPIRED)}
    doubts = {one.body[2]: one.doubts for one in verdicts if one.doubts}
    assert doubts == {
        serial(UNDATED): ("undated",),
        serial(OVERDUE): ("meter-certificate-expired",),
        serial(OUT_OF_REACH): ("stale",),
    }
    assert {one.asset_tag for one in verdicts} >= {f"R{OUT}", f"R{EDGE}"}


def test_nobody_is_forgotten(shelf, verdicts):
    absent = absent_bodies(shelf.rows, verdicts, TODAY, left=shelf.left)
    assert {(one.body[2], one.reason) for one in absent if one.reason == "archived"} == {
        (serial(DELETED), "archived")
    }
    failed = [one for one in absent if one.reason == "failed"]
    assert {one.asset_tag for one in failed} == {f"R{FAILS}", f"R{FAILS_LAST}"}
    assert len(failed) == 6
    assert all("no frame has a reading" in one.why for one in failed)
    assert {one.body[2] for one in verdicts} | {one.body[2] for one in absent} >= {
        serial(body) for body in range(30) if body not in (FAILS, FAILS_LAST)
    }


def test_the_copy_counts_once(shelf):
    rows = [row for row in shelf.rows if row.camera_serial == serial(COPIED)]
    assert len(rows) == 6
    (copy,) = (row for row in rows if row.duplicate_of)
    assert {copy.series, copy.duplicate_of} == {
        "meter2/backup/copy",
        f"meter2/2026/{serial(COPIED)}",
    }
    (history,) = (
        one for one in histories(shelf.rows, "offset_ev") if one.asset_tag == f"R{COPIED}"
    )
    assert len(history.points) == 5


def test_the_adjustment_stands_beside_what_was_found(shelf):
    (pair,) = adjustments(judge(shelf.rows, LIMITS, TODAY))
    assert (pair.found.verdict, pair.left.verdict) == ("out", "in")
    assert pair.change_ev == pytest.approx(-0.6, abs=4.0 * SCATTER)


def test_the_drifting_two_are_found_and_nobody_else(shelf):
    found = histories(shelf.rows, "offset_ev", tolerances=LIMITS)
    drifting = {one.body[2] for one in found if one.trend is not None and one.trend.significant}
    assert drifting == {serial(UP), serial(DOWN)}
    for one in found:
        assert one.bench.repeatability_ev == pytest.approx(SCATTER, rel=0.4)
        assert one.bench.budget_ev > 3.0 * SCATTER
    assert serial(UNDATED) not in {one.body[2] for one in found}
    up = next(one for one in found if one.body[2] == serial(UP))
    assert up.trend.low_ev_per_year < 0.05 < up.trend.high_ev_per_year
    same = {one.body[2]: one.verdict for one in body_verdicts(judge(shelf.rows, LIMITS, TODAY))}
    assert all(one.verdict == same[one.body[2]] for one in found)  # one rule, one answer


def test_bodies_are_held_together_by_the_meter_they_share(shelf):
    groups = compare_models(shelf.rows, "offset_ev")
    assert {group.model for group in groups} == set(MODELS)
    for group in groups:
        odd = {one.row.camera_serial for one in group.deviations if one.outlier}
        assert odd <= {serial(OUT), serial(EDGE)}
        assert shared_meter([one.row for one in group.deviations])[2] in ("M0", "M1", "M2")
    assert any(
        one.outlier and one.row.camera_serial == serial(OUT)
        for group in groups
        for one in group.deviations
    )
