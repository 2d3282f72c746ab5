"""A reading that can't be used says what is wrong, where, and how to mend it."""

from __future__ import annotations

import re

import pytest

from profiler.errors import SheetError
from profiler.exposure.readings import parse_reading
from profiler.records import Meter

TEXTS = [
    ("", "the reading is empty"),
    ("   ", "the reading is empty"),
    ("650", "'650' has no unit"),
    ("650 foo", "'650 foo' has an unknown unit, 'foo'"),
    ("1e5 lx", "'1e5' has an unknown unit, 'e5'"),
    ("banana", "'banana' is not understood"),
    ("EV", "'ev' is not understood"),
    ("f/8 1/125 DIN 21", "'din' is not understood"),
    ("LV 12 ISO 400", "LV is the EV at ISO 100, but another ISO stands beside it"),
    ("f/8.5 1/60 ISO 100", "f/8.5 isn't a mark of full stops, halves or thirds"),
    ("f/5.63 1/60 ISO 100", "f/5.63 isn't a mark of full stops, halves or thirds"),
    ("f/60 1/60 ISO 100", "f/60 isn't a mark of full stops, halves or thirds"),
    ("f/8 2/3 ISO 100", "'2/3' isn't a time; it may be two thirds of a stop"),
    ("f/8+1/60 ISO 400", "'+1/60' isn't a part of a stop"),
    ("f/8+1/0 ISO 400", "'+1/0' isn't a part of a stop"),
    ("f/8+3/3 ISO 400", "'+3/3' isn't a part of a stop"),
    ("f/8₁₂ ISO 400", "'+12' isn't a part of a stop"),
    ("f/8 125 ISO 100", "'125' has no unit"),
    ("f/8 1/125", "no ISO value"),
    ("f/8", "no ISO value"),
    ("1/125 ISO 100", "no aperture, EV, illuminance or luminance"),
    ("f/8 f/11 1/125 ISO 100", "two values of f-number"),
    ("f/8 1/125 1/60 ISO 100", "two values of time"),
    ("f/8 1/125 2 s ISO 100", "two values of time"),
    ("EV 10.3 EV 10.4", "two values of EV"),
    ("dark dark", "two values of dark"),
    ("f/8 T8 1/125 ISO 100", "both an f-number and a T-stop"),
    ("T2.8 180deg EI 800", "no frame rate"),
    ("T2.8 24fps EI 800", "no shutter angle"),
    ("T2.8 180deg 24fps 1/48 EI 800", "both a time and a shutter angle"),
    ("T2.8 400deg 24fps EI 800", "the shutter angle in '400deg' is beyond a full turn"),
    ("T2.8 0deg 24fps EI 800", "the shutter angle in '0deg' is not above 0"),
    ("T2.8 180deg 0fps EI 800", "the frame rate in '0fps' is not above 0"),
    ("650 lx ISO 100", "a reading in lx stands alone, but there is more in the reading"),
    ("EV 10.3 f/8", "an EV stands alone, but there is more in the reading"),
    ("dark EV 10.3", "'dark' stands alone, but there is more in the reading"),
    ("f/0 1/125 ISO 100", "the f-number in 'f/0' is not above 0"),
    ("f/8 1/0 ISO 100", "the time in '1/0' is not above 0"),
    ("f/8 0 s ISO 100", "the time in '0 s' is not above 0"),
    ("f/8 1/125 ISO 0", "the ISO in 'iso 0' is not above 0"),
    ("f/8 1/125 ISO -100", "the ISO in 'iso -100' is not above 0"),
    ("-650 lx", "the illuminance in '-650 lx' is not above 0"),
    ("-41 cd/m2", "the luminance in '-41 cd/m2' is not above 0"),
    ("0 fc", "the illuminance in '0 fc' is not above 0"),
    ("99999999999 lx", "the illuminance in '99999999999 lx' is beyond any meter"),
    ("EV 103", "'ev 103' isn't an EV that a meter shows"),
    ("f/5.6+12 1/60 ISO 400", "'+12' isn't a part of a stop"),
    ("f/5.6+0.3 1/60 ISO 400", "'+0.3' isn't a part of a stop"),
    ("f/5.6-3 1/60 ISO 400", "'-3' has no unit"),
    ("1.2.3 lx", "'1.2.3' is not a number"),
    ("1,250 lx", "'1,250' may be 1250 or 1.250"),
    ("f/8 1/1,250 ISO 100", "'1,250' may be 1250 or 1.250"),
    ("1,250.5 lx", "'1,250.5' has more than one separator"),
    ("1.250,5 lx", "'1.250,5' has more than one separator"),
    ("1,250,000 lx", "'1,250,000' has more than one separator"),
]


@pytest.mark.parametrize(("text", "what"), TEXTS)
def test_texts_that_are_no_reading(text: str, what: str) -> None:
    with pytest.raises(SheetError, match=r"^reading '") as caught:
        parse_reading(text)
    assert caught.value.what == what
    assert caught.value.where == f"reading '{text.strip()}'"
    assert len(caught.value.mend) > 15


@pytest.mark.parametrize("text", ["", "650", "banana", "1/125 ISO 100", "dark EV 10.3", "f/5.6-3"])
def test_the_mend_shows_the_accepted_forms(text: str) -> None:
    with pytest.raises(SheetError, match=r"in one of these forms: EV 10\.3; .*; 650 lx; .*; dark"):
        parse_reading(text)


MODES_THAT_DON_T_SUIT = [
    ("650 lx", "spot", "lx is an incident reading, but the mode is spot", "incident-flat"),
    ("60 fc", "spot", "fc is an incident reading, but the mode is spot", "incident-dome"),
    ("650 lx", "flash-spot", "mode flash-spot needs the f-number", "without flash"),
    ("650 lx", "flash-dome", "mode flash-dome needs the f-number", "f/11+2 ISO 100"),
    ("41 cd/m2", "incident-flat", "cd/m2 is a spot reading, but the mode is inc", "mode to spot"),
    ("12 fL", "incident-dome", "fL is a spot reading, but the mode is incident-dome", "lx, fc"),
    ("41 cd/m2", "flash-spot", "mode flash-spot needs the f-number", "f/11+2 ISO 100"),
    ("EV 10.3", "flash-dome", "mode flash-dome needs the f-number", "without flash"),
    ("T2.8 180deg 24fps EI 800", "flash-flat", "mode flash-flat needs the f-number", "f/11+2"),
    ("f/11+2 ISO 100", "spot", "the reading has no time, but the mode is spot", "f/8 1/125 ISO"),
    (
        "f/8 1/2 ISO 100",
        "flash-dome",
        "'1/2' may be a part of a stop or a time",
        "Write f/8+1/2 for half a stop more",
    ),
    ("f/8 1/3 ISO 100", "flash-spot", "'1/3' may be a part of a stop or a time", "1/3 s where"),
    ("f/11+2 ISO 100", "incident-dome", "the reading has no time, but the mode", "flash-dome"),
    ("dark", "spot", "a lens-cap frame has no metered exposure", "black only"),
    ("EV 10.3", "dome", "unknown mode 'dome'", "incident-dome, incident-flat, spot, flash-dome"),
]


@pytest.mark.parametrize(("text", "mode", "what", "mend"), MODES_THAT_DON_T_SUIT)
def test_modes_that_don_t_suit(text: str, mode: str, what: str, mend: str) -> None:
    with pytest.raises(SheetError, match=r"^reading '") as caught:
        parse_reading(text).metered_ev100(mode, Meter())
    assert caught.value.what.startswith(what)
    assert mend in caught.value.mend


def test_the_caller_names_the_place() -> None:
    with pytest.raises(SheetError, match=r"^series\.csv, row 7: '650' has no unit\. Write"):
        parse_reading("650", where="series.csv, row 7")
    reading = parse_reading("650 lx", where="series.csv, row 7")
    with pytest.raises(SheetError, match=r"^series\.csv, row 7: lx is an incident reading"):
        reading.metered_ev100("spot", Meter(), where="series.csv, row 7")


def test_a_long_text_is_cut_short_in_the_message() -> None:
    with pytest.raises(SheetError, match=r"^reading 'x{60}\.\.\.': "):
        parse_reading("x" * 500)


@pytest.mark.parametrize(
    ("typed", "mend"),
    [("f/8.4", "Write f/8+4 for f/8 and 4 tenths of a stop"), ("f/6.9", "Write the mark with its")],
)
def test_tenths_are_proposed_on_full_stops_alone(typed, mend):
    with pytest.raises(SheetError, match=re.escape(mend)):
        parse_reading(f"{typed} 1/60 ISO 100", "row 1")
