"""Words and figures of exposures."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from profiler.errors import ExposureError
from profiler.exposure.readings import parse_reading
from profiler.exposure.stops import (
    format_ev,
    format_f_number,
    format_f_tenths,
    format_time,
    spell_offset,
)


@pytest.mark.parametrize(
    ("f_number", "text"),
    [
        (2.8, "f/2.8"),
        (2.0**1.5, "f/2.83"),
        (16, "f/16"),
        (0.95, "f/0.95"),
        (11.3137, "f/11.3"),
        (100.0, "f/100"),
        (128.4, "f/128"),
        (9.99999, "f/10"),
        (1.0, "f/1"),
    ],
)
def test_f_numbers(f_number: float, text: str) -> None:
    assert format_f_number(f_number) == text


@pytest.mark.parametrize(
    ("time_s", "text"),
    [
        (1 / 125, "1/125 s"),
        (1 / 64, "1/64 s"),
        (1 / 50.797, "1/50.8 s"),
        (0.8, "0.8 s"),
        (0.769230769, "0.769 s"),
        (1 / 3, "1/3 s"),
        (0.333333333, "1/3 s"),
        (0.3, "0.3 s"),
        (0.29, "0.29 s"),
        (0.25, "1/4 s"),
        (0.5, "0.5 s"),
        (1.0, "1 s"),
        (30, "30 s"),
        (120.0, "120 s"),
        (1 / 32000, "1/32000 s"),
    ],
)
def test_times(time_s: float, text: str) -> None:
    assert format_time(time_s) == text


@pytest.mark.parametrize(
    ("f_number", "text"),
    [
        (2.0**2.5 * 2.0**0.15, "f/5.6+3"),
        (8.0, "f/8"),
        (7.95, "f/8"),
        (7.72, "f/5.6+9"),
        (1.0, "f/1"),
        (0.97, "f/0.7+9"),
        (0.99, "f/1"),
        (90.51, "f/90"),
        (128.0, "f/128"),
        (128.0 * 2**0.2, "f/128+4"),
    ],
)
def test_tenths(f_number: float, text: str) -> None:
    assert format_f_tenths(f_number) == text


@given(st.floats(0.75, 89.0))
@settings(derandomize=True, deadline=None)
def test_tenths_are_read_back_within_half_a_tenth(f_number: float) -> None:
    reading = parse_reading(f"{format_f_tenths(f_number)} ISO 100")
    assert abs(2 * math.log2(reading.f_number() / f_number)) <= 0.05 + 1e-9


@pytest.mark.parametrize(
    ("value_ev", "digits", "text"),
    [
        (0.537, 2, "+0.54 EV"),
        (-0.537, 1, "-0.5 EV"),
        (0.004, 2, "0.00 EV"),
        (-0.004, 2, "0.00 EV"),
        (-0.0, 1, "0.0 EV"),
        (12.0, 1, "+12.0 EV"),
    ],
)
def test_ev(value_ev: float, digits: int, text: str) -> None:
    assert format_ev(value_ev, digits) == text


@pytest.mark.parametrize(
    ("offset_ev", "text"),
    [
        (0.537, "give 0.5 stop more than the meter says"),
        (-0.3, "give 0.3 stop less than the meter says"),
        (1.0, "give 1.0 stop more than the meter says"),
        (1.04, "give 1.0 stop more than the meter says"),
        (1.06, "give 1.1 stops more than the meter says"),
        (-1.5, "give 1.5 stops less than the meter says"),
        (0.05, "give 0.1 stop more than the meter says"),
        (0.0499, "the meter and this body agree"),
        (-0.0499, "the meter and this body agree"),
        (0.0, "the meter and this body agree"),
    ],
)
def test_offsets_in_words(offset_ev: float, text: str) -> None:
    assert spell_offset(offset_ev) == text


def test_refusals() -> None:
    with pytest.raises(ValueError, match="an offset must be finite, not nan"):
        spell_offset(math.nan)
    with pytest.raises(ExposureError, match=r"^time: it must be a number above 0 s, not 0"):
        format_time(0.0)
    with pytest.raises(ExposureError, match=r"^f-number: "):
        format_f_tenths(-1.0)
