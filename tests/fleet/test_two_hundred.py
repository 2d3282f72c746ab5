"""Two hundred bodies with known offsets: some out, some on the edge, some drifting, two unreadable.

Six of them come through real raw files; the others as profiles with drawn errors. Tolerance of the
model: 0.4 EV around -0.25 EV.
"""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import date

import fleetlab
import numpy as np
import pytest

from profiler import simulate
from profiler.fleet.batch.run import run_fleet
from profiler.fleet.batch.task import Settings
from profiler.fleet.decide import body_verdicts, judge
from profiler.fleet.drift import common_drift, histories
from profiler.fleet.models import compare_models
from profiler.fleet.tolerances import parse_tolerances

CENTRE, LIMIT = -0.25, 0.4
DATES = ("2024-01-10", "2024-07-10", "2025-01-10", "2025-07-10", "2026-01-10")
YEARS = np.array([(date.fromisoformat(d) - date(2026, 1, 10)).days / 365.25 for d in DATES])
OUT = {"000020": 0.75, "000021": -0.8, "000022": 0.9, "000023": -1.1, "000024": 1.5}
EDGE = {"000030": 0.38, "000031": -0.38, "000032": 0.42, "000033": -0.42}
DRIFT = {"000040": 0.3, "000041": -0.3, "000042": 0.25}
RAW = {"000001": 0.0, "000002": 0.1, "000003": -0.1, "000004": 0.9, "000005": -0.9, "000006": 0.05}
"""Serial -> how far, in EV, from the centre (per year for DRIFT) the body is."""
TOLERANCES = f"""
rule = "{{rule}}"
[tolerances]
offset_ev = {{{{low = {CENTRE - LIMIT}, high = {CENTRE + LIMIT}}}}}
"""
SLOW = fleetlab.REPEAT_U * math.sqrt(0.5)
FAST = math.sqrt(fleetlab.U**2 - SLOW**2)


def raw_series(folder, serial, off_ev, seed):
    """Write DNGs of a body that needs so many stops more than usual; return its true offset."""
    body = simulate.load_body("halden-h2")
    darker = body.electrons_per_lx_s * 2.0**-off_ev
    spec = simulate.standard_series(
        replace(body, serial=serial, electrons_per_lx_s=darker),
        seed,
        labels=(400,),
        size=(240, 160),
        darks=1,
    )
    files = simulate.write_series(spec, folder)
    return json.loads(files.truth.read_text())["results"][0]["offset_ev"]


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    """Folder of all profiles, and the true offset of each serial today."""
    place = tmp_path_factory.mktemp("lab")
    root, out = place / "root", place / "out"
    true = {}
    for k, (serial, off) in enumerate(RAW.items()):
        true[serial] = raw_series(root / "raw" / serial, serial, off, 100 + k)
    (root / "asset.toml").write_text(f'[asset]\ndate = "{DATES[-1]}"\nlight = "daylight"\n')
    raw_series(root / "bad" / "no-reading", "000900", 0.0, 1)
    (root / "bad" / "no-reading" / "sheet.csv").write_text("file,reading,mode\n*,,\n")
    raw_series(root / "bad" / "half-copied", "000901", 0.0, 2)
    victim = root / "bad" / "half-copied" / "IMG_0004.dng"
    victim.write_bytes(victim.read_bytes()[:3000])
    summary = run_fleet(root, out, jobs=1, settings=Settings(meter=fleetlab.METER))
    rng = np.random.default_rng(2026)
    slow = rng.normal(0.0, SLOW)
    for k in range(7, 199):
        serial = f"{k:06d}"
        off = (OUT | EDGE).get(serial, float(rng.normal(0.0, 0.05)))
        slope = DRIFT.get(serial, 0.0)
        if serial in DRIFT:
            off = 0.4 * slope  # so that it stays within the limits for now
        true[serial] = CENTRE + off
        for day, year in zip(DATES, YEARS, strict=True):
            seen = true[serial] + slope * year + slow + rng.normal(0.0, FAST)
            fleetlab.keep(
                out / "profiles",
                f"drawn/{serial}/{day}",
                fleetlab.profile(serial, float(seen)),
                date=day,
                tag=f"R{k}",
            )
    return summary, out, true


@pytest.fixture(scope="module")
def rows(lab):
    rows, wrong = fleetlab.load_rows(lab[1])
    assert not wrong
    return rows


def test_the_two_bad_folders_are_named(lab):
    summary = lab[0]
    assert summary.measured == 6
    assert {f.series for f in summary.failures} == {"bad/no-reading", "bad/half-copied"}


def test_serials_are_kept(rows):
    assert {row.camera_serial for row in rows} == {f"{k:06d}" for k in range(1, 199)}


@pytest.mark.parametrize("rule", ["simple", "guard-band", "conformance"])
def test_every_verdict_is_right_or_undecided(lab, rows, rule):
    true = lab[2]
    judged = judge(rows, parse_tolerances(TOLERANCES.format(rule=rule), "t"), date(2026, 6, 1))
    verdicts = {one.body[2]: one.verdict for one in body_verdicts(judged)}
    assert len(verdicts) == 198
    surely_out = {*OUT, "000004", "000005"}
    assert {s for s, v in verdicts.items() if v == "out"} - set(EDGE) == surely_out
    for serial, verdict in verdicts.items():
        conforms = abs(true[serial] - CENTRE) <= LIMIT
        if serial in EDGE:
            assert rule == "simple" or verdict == "undecided"
        elif verdict != "undecided":
            assert verdict == ("in" if conforms else "out")
    undecided = {s for s, v in verdicts.items() if v == "undecided"}
    assert len(undecided - set(EDGE)) <= 3


def test_raw_files_give_their_true_offsets(lab, rows):
    true = lab[2]
    for row in rows:
        if row.camera_serial in RAW:
            assert row.offset_ev == pytest.approx(true[row.camera_serial], abs=0.05)
            assert row.value("offset_ev").low <= true[row.camera_serial]
            assert row.value("offset_ev").high >= true[row.camera_serial]


def test_the_drifting_three_are_found_and_nobody_else(rows):
    found = histories(rows, "offset_ev")
    drifting = {h.body[2] for h in found if h.trend is not None and h.trend.significant}
    assert drifting == set(DRIFT)
    assert common_drift(found) == []
    for history in found:
        if history.body[2] in DRIFT:
            truth = DRIFT[history.body[2]]
            assert history.trend.low_ev_per_year <= truth <= history.trend.high_ev_per_year


def test_the_odd_ones_stand_out_of_their_model(rows):
    (group,) = compare_models(rows, "offset_ev")
    odd = {one.row.camera_serial for one in group.deviations if one.outlier}
    assert {*OUT, "000004", "000005"} <= odd <= {*OUT, *EDGE, "000004", "000005"}
    assert group.median_ev == pytest.approx(CENTRE, abs=0.1)
    assert group.spread_ev == pytest.approx(0.05, abs=0.03)
