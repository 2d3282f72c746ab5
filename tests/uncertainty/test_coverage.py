"""The stated intervals, on fewer seeds than the record in COVERAGE.md."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from coverage_runs import CASES, efficiency, tally

SEEDS = 200


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_truth_is_held(case):
    found = tally(case, SEEDS, jobs=1)
    # 95 % of 200: binomial standard deviation 1.5 %, so 3 of them either way
    for held in (found.offset_held, found.headroom_held):
        assert 0.905 <= held <= 0.995
    # spread of 200 pulls: standard deviation 5 %; an interval a third too narrow would make the
    # smallest of these 0.85 / (2 / 3) = 1.28
    assert 0.85 <= found.pull_sd <= 1.15
    assert abs(found.pull_mean) < 0.3


def test_no_frame_is_wasted():
    sd, bound = efficiency(100)
    assert sd <= 1.15 * bound


def test_the_record_is_there():
    record = (Path(__file__).parent / "COVERAGE.md").read_text(encoding="utf-8")
    for case in CASES:
        assert f"| {case.name} | 1000 |" in record
