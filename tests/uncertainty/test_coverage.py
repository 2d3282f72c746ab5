"""The stated intervals, on fewer seeds than the record in COVERAGE.md."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from coverage_runs import CASES, efficiency, tally

SEEDS = 100


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_truth_is_held(case):
    found = tally(case, SEEDS, jobs=1)
    # 95 % of 100: binomial standard deviation 2.2 %, so 3 of them either way
    for held in (found.offset_held, found.headroom_held):
        assert held >= 0.885
    # spread of 100 pulls: standard deviation 7 %; an interval a third too narrow makes it 1.5
    assert 0.79 <= found.pull_sd <= 1.21
    assert abs(found.pull_mean) < 0.4


def test_no_frame_is_wasted():
    sd, bound = efficiency(100)
    assert sd <= 1.15 * bound


def test_the_record_is_there():
    record = (Path(__file__).parent / "COVERAGE.md").read_text(encoding="utf-8")
    for case in CASES:
        assert f"| {case.name} | 1000 |" in record
