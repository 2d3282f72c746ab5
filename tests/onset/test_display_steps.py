"""The step of the display as typed reaches an answer on set, and the meter's file overrules it."""

from __future__ import annotations

import math

import pytest

from profiler.onset.metered import read_meter_texts
from profiler.records import Meter


@pytest.mark.parametrize(
    ("texts", "stated", "step_ev"),
    [
        ("f/8 1/8 ISO 100", None, 1.0 / 3.0),
        ("f/8 1/8 ISO 100; f/8+3 1/8 ISO 100", None, 0.1),
        ("f/8 1/8 ISO 100", 0.1, 0.1),
        ("EV 12", None, 1.0),
        ("EV 12.3", 0.5, 0.5),
    ],
)
def test_step_of_today_s_reading(texts, stated, step_ev):
    found = read_meter_texts(texts, "spot", Meter(repeatability_ev=0.0, resolution_ev=stated))
    assert found.step_ev == pytest.approx(step_ev)
    (row,) = found.rows()
    # a rectangle of the step's width: JCGM 100:2008, 4.3.7
    assert row.contribution_ev == pytest.approx(
        step_ev / math.sqrt(12.0) / math.sqrt(len(found.texts))
    )
