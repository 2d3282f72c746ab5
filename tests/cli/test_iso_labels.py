"""ISO labels by commas, one by one, or both."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from profiler.cli.main import greytare


@pytest.mark.parametrize(
    "words", [["--iso", "100,400"], ["--iso", "100", "--iso", "400"], ["--iso", "100, 400,100"]]
)
def test_labels_by_commas_are_labels(words):
    done = CliRunner().invoke(greytare, ["plan", *words, "--reading", "EV 11", "--json"])
    assert done.exit_code == 0, done.output
    assert [label["iso"] for label in json.loads(done.output)["labels"]] == [100, 400]


@pytest.mark.parametrize("typed", ["100;400", "100,", "4OO", "", "9" * 12])
def test_other_labels_are_refused(typed):
    done = CliRunner().invoke(greytare, ["plan", "--iso", typed])
    assert done.exit_code == 2
    assert "isn't an ISO label" in done.output
