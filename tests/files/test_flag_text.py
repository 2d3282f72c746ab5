"""Flags on their way through a table."""

from __future__ import annotations

import pytest

from profiler.errors import MeasureError
from profiler.files.level_table import flags_text, parse_flags
from profiler.records import Flag

EIGHT = Flag(name="eight-bit", size=8.0, unit="bit", where="a.kdc")
LOSSY = Flag(
    name="lossy-coding", size=0.1 + 0.2, unit="of codes", where="a.kdc", detail="stored so"
)


@pytest.mark.parametrize("flags", [(), (EIGHT,), (LOSSY,), (EIGHT, LOSSY)])
def test_there_and_back(flags):
    assert parse_flags(flags_text(flags), "a.kdc", "t.csv") == flags


@pytest.mark.parametrize("text", ["eight-bit", "eight-bit many bit", "sheep 8 bit", "eight-bit 8"])
def test_other_texts_are_refused(text):
    with pytest.raises(MeasureError, match=r"row 3, column flags: .* isn't a flag with its size"):
        parse_flags(text, "a.kdc", "t.csv, row 3, column flags")
