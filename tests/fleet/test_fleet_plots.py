"""Ticks of the time axis."""

from __future__ import annotations

from datetime import date

import pytest

from profiler.show.fleet.plots import month_ticks


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [
        ("2026-03-05", "2026-03-20", ["2026-03-05"]),
        ("2026-03-01", "2026-03-20", ["2026-03"]),
        (
            "2026-01-10",
            "2026-07-10",
            ["2026-02", "2026-03", "2026-04", "2026-05", "2026-06", "2026-07"],
        ),
        ("2024-01-10", "2026-01-10", ["2024-07", "2025-01", "2025-07", "2026-01"]),
        ("2019-01-10", "2026-01-10", ["2020", "2022", "2024", "2026"]),
        ("1926-01-10", "2026-01-10", ["1950", "2000"]),
    ],
)
def test_month_ticks(first, last, words):
    ticks = month_ticks(date.fromisoformat(first).toordinal(), date.fromisoformat(last).toordinal())
    assert [text for _, text in ticks] == words
    for day, _ in ticks:
        assert date.fromisoformat(first).toordinal() <= day
