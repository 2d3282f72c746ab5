"""Cells that a spreadsheet would run come back as they were, and it shows them as text."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from profiler.files.csv_text import plain_cell, safe_cell
from profiler.files.level_table import read_table, write_table
from profiler.files.sheet import new_sheet, parse_sheet
from profiler.records import FrameTags, Measurement, Tag

# OWASP Foundation, CSV Injection: cells that begin with these
DANGEROUS = "=+-@\t\r"


@given(st.text(alphabet="=+-@'\t\rA1.0e ", max_size=6) | st.text())
def test_every_text_comes_back_and_none_is_a_formula(text):
    cell = safe_cell(text)
    assert plain_cell(cell) == text
    if cell[:1] in tuple(DANGEROUS):
        float(cell)  # a number is no formula


@pytest.mark.parametrize("name", ["=cmd|' /C calc'!A0.dng", "@SUM(1).dng", "+A1.dng", "-x.dng"])
def test_sheet_and_table_round_trip(tmp_path, name):
    sheet = new_sheet([{"file": name, "reading": "EV 10", "mode": "spot"}])
    assert next(csv.DictReader(io.StringIO(sheet)))["file"] == f"'{name}"
    assert parse_sheet(sheet, "sheet.csv").rows[0].file == name
    (tmp_path / "t.csv").write_text("file,Y\na,-5.0\n")
    tags = FrameTags(model=Tag(value="=1+1", source="table"))
    frame = replace(read_table(tmp_path / "t.csv").frames[0], file=name, tags=tags)
    (tmp_path / "t.csv").write_text(write_table(Measurement(frames=(frame,), patch="")))
    again = read_table(tmp_path / "t.csv").frames[0]
    assert (again.file, again.tags.model.value, again.channels["Y"].mean_dn) == (name, "=1+1", -5.0)
