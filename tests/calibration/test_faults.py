"""Every fault of practice: survived, flagged or refused, as the table of duties says."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from profiler import simulate
from profiler.calibration import pipeline
from profiler.flags import KINDS
from profiler.simulate.memory import measure_in_memory

sys.path.insert(0, str(Path(__file__).parent))
from duties import DUTIES
from faults_walk import walk

RECORD = (Path(__file__).parent / "FAULTS.md").read_text(encoding="utf-8")
README = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")


def test_every_fault_has_its_duty():
    assert set(DUTIES) == set(simulate.FAULTS)
    for duty in DUTIES.values():
        if duty.kind == "flag":
            assert set(duty.says) <= set(KINDS)


@pytest.mark.parametrize("name", DUTIES)
def test_duty(name, tmp_path):
    duty = DUTIES[name]
    outcome = walk(name, tmp_path)
    if duty.kind == "refuse":
        assert duty.says[0] in outcome.refused
        return
    if duty.kind == "flag":
        assert outcome.refused == ""
        assert outcome.flags & set(duty.says)
        return
    assert outcome.refused == ""
    if duty.kind == "survive":
        assert abs(outcome.error_ev) <= outcome.half_ev
    else:
        # honest about it: the number is off, and nothing says so
        assert abs(outcome.error_ev) > outcome.half_ev


@pytest.mark.parametrize("body", ["halden-h2", "merle-m1"])
def test_a_clean_series_raises_no_flag(body):
    flagged = 0
    for seed in range(100):
        spec = simulate.standard_series(
            simulate.load_body(body),
            seed,
            pairs=True,
            darks=2,
            size=(96, 96),
            shutter_scatter_ev=0.02,
        )
        profile = pipeline.fit(*measure_in_memory(spec))
        flagged += any(result.flags for result in profile.results)
    assert flagged <= 1


def test_the_readme_tells_of_some_faults_and_the_record_of_all():
    told = [row for row in README.splitlines() if row.startswith("| `")]
    for name, duty in DUTIES.items():
        assert f"| `{name}`" in RECORD
        row = next((row for row in told if row.startswith(f"| `{name}` |")), "")
        if row and duty.kind == "flag":
            assert any(f"`{says}`" in row for says in duty.says)
        elif row and duty.kind == "refuse":
            assert "refuse" in row
    assert sum(any(row.startswith(f"| `{name}` |") for row in told) for name in DUTIES) >= 5
