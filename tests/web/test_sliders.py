"""One slider doesn't cure what another one did."""

from __future__ import annotations

import pytest

from profiler.calibration import pipeline
from profiler.simulate.memory import measure_in_memory
from profiler.web.teach import lesson, sliders

START = {slider.name: slider.start for slider in sliders.all_sliders()}
STRONG = {
    "drift": (0.4, "trend"),
    "mistyped": (1.0, "slip"),
    "knee": (60.0, "bends-before-clip"),
    "short": (1.0, "clip-not-seen"),
    "gain": (1.0, "unusual-offset"),
    "flare": (5.0, ""),
    "meter": (0.3, ""),
}
EXPECTED = {
    ("meter", "gain"): "a meter that reads high makes up for it: the two agree again",
}
"""Pairs of which one does hide the other's flag, and why that is right."""


def flags(**moved):
    measurement, sheet = measure_in_memory(lesson.make_series(START | moved, 11))
    profile = pipeline.fit(measurement, sheet, light="daylight")
    return {flag.name for flag in profile.results[0].flags}


@pytest.mark.parametrize("raised", [name for name, (_, flag) in STRONG.items() if flag])
def test_flag_of_a_slider_stays_when_another_is_moved(raised):
    size, flag = STRONG[raised]
    for other in ("drift", "mistyped", "flare", "meter"):
        other_size, _ = STRONG[other]
        if other == raised or {(raised, other), (other, raised)} & set(EXPECTED):
            continue
        assert flag in flags(**{raised: size, other: other_size}), f"{raised} with {other}"


@pytest.mark.parametrize("mistyped", [-1.0, 1.0])
@pytest.mark.parametrize("drift", [-0.4, 0.4])
def test_mistyped_reading_does_not_let_the_meter_see_the_drift(drift, mistyped):
    assert {"trend", "slip"} <= flags(drift=drift, mistyped=mistyped)


def test_one_reading_is_written_into_every_row_but_the_mistyped_one():
    _, sheet = measure_in_memory(lesson.make_series(START | {"drift": 0.4, "mistyped": 1.0}, 11))
    texts = [row.reading_text for row in sheet.rows if not row.dark]
    assert sorted({texts.count(text) for text in set(texts)}) == [1, len(texts) - 1]
