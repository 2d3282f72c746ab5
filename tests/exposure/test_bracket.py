"""Rows of exposures start, step, end where they should."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from profiler.exposure.bracket import bracket_placements_ev


@pytest.mark.parametrize(
    ("lowest", "highest", "step", "placements"),
    [
        (-2.0, 2.0, 1.0, [-2.0, -1.0, 0.0, 1.0, 2.0]),
        (-1.0, 1.0, 1 / 3, [-1, -2 / 3, -1 / 3, 0, 1 / 3, 2 / 3, 1]),
        (0.0, 1.0, 0.1, [0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0]),
        (0.0, 1.0, 0.4, [0.0, 0.4, 0.8]),
        (1.5, 1.5, 0.5, [1.5]),
        (0.0, 0.3, 0.5, [0.0]),
    ],
)
def test_placements(lowest: float, highest: float, step: float, placements: list[float]) -> None:
    assert bracket_placements_ev(lowest, highest, step) == pytest.approx(placements, abs=1e-12)


@given(st.floats(-8.0, 0.0), st.floats(0.0, 8.0), st.integers(1, 40))
@settings(derandomize=True, deadline=None)
def test_a_step_that_fits_reaches_the_end(lowest: float, highest: float, steps: int) -> None:
    if highest - lowest < 0.01:
        return
    placements = bracket_placements_ev(lowest, highest, (highest - lowest) / steps)
    assert len(placements) == steps + 1
    assert placements[-1] == pytest.approx(highest, abs=1e-9)
