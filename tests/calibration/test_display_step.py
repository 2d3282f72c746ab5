"""The step of the meter's display in the budget of a fit: as typed, or as stated."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from profiler import simulate
from profiler.calibration import pipeline
from profiler.files.sheet import Sheet
from profiler.records import Meter
from profiler.simulate.memory import measure_in_memory


@pytest.fixture(scope="module")
def series():
    spec = simulate.standard_series(
        simulate.load_body("halden-h2"), 3, labels=(100,), mode="spot", frames_per_label=6,
        size=(96, 96),
    )  # fmt: skip
    return measure_in_memory(spec)


def as_typed(sheet: Sheet, text: str) -> Sheet:
    """Return the sheet with the reading of the whole series typed otherwise."""
    from profiler.exposure.readings import parse_reading

    rows = tuple(
        row if row.reading is None else replace(row, reading=parse_reading(text), reading_text=text)
        for row in sheet.rows
    )
    return replace(sheet, rows=rows)


@pytest.mark.parametrize(
    ("text", "stated", "step_ev", "who"),
    [
        ("EV 10.3", None, 0.1, "as typed"),
        ("f/8 1/8 ISO 100", None, 1.0 / 3.0, "as typed"),
        ("f/8+3 1/8 ISO 100", None, 0.1, "as typed"),
        ("f/8 1/8 ISO 100", 0.1, 0.1, "as stated"),
        ("EV 10.3", 0.5, 0.5, "as stated"),
    ],
)
def test_row_of_the_display(series, text, stated, step_ev, who):
    measurement, sheet = series
    profile = pipeline.fit(measurement, as_typed(sheet, text), meter=Meter(resolution_ev=stated))
    (result,) = profile.results
    (row,) = [row for row in result.budget if row.source == "meter resolution"]
    assert row.half_width_ev == pytest.approx(0.5 * step_ev)
    assert row.contribution_ev == pytest.approx(step_ev / math.sqrt(12.0))  # JCGM 100:2008, 4.3.7
    assert who in row.basis
    assert profile.meter.resolution_ev == stated


@pytest.mark.parametrize(
    ("text", "stated", "flagged"),
    [("EV 10", None, True), ("EV 10.0", None, False), ("EV 10", 0.1, False), ("EV 10", 1.0, False)],
)
def test_a_reading_without_its_last_figure_is_said_to_be_coarse(series, text, stated, flagged):
    measurement, sheet = series
    profile = pipeline.fit(measurement, as_typed(sheet, text), meter=Meter(resolution_ev=stated))
    assert ("coarse-reading" in {flag.name for flag in profile.results[0].flags}) is flagged
