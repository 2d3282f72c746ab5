"""One rule for every CSV: delimiter and encoding are found, what is assumed is said."""

from __future__ import annotations

import doctest

import pytest

from profiler.errors import MeasureError, SheetError
from profiler.files import csv_text
from profiler.files.level_table import read_table
from profiler.files.sheet import read_sheet
from profiler.fleet.details import read_assets
from profiler.web.series.cells import Edit, edit_cells, read_cells

ENCODINGS = ["utf-8", "utf-8-sig", "utf-16", "cp1252"]
SHEET = "file,reading,mode,note\n*,EV 10.3,spot,Größe\n\na.dng,dark,,\n"
TABLE = "file,iso,time_s,f_number,R,G,B\nGröße,100,0.5,8,10,20,15\n"
ASSETS = "Serial,Tag\n000100,Größe\n"


def written(path, text, encoding, delimiter):
    path.write_bytes(text.replace(",", delimiter).encode(encoding))
    return path


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ENCODINGS)
def test_each_reader_takes_what_spreadsheets_write(tmp_path, encoding, delimiter):
    said = []
    path = written(tmp_path / "a.csv", SHEET, encoding, delimiter)
    sheet = read_sheet(path, said.append)
    assert [(row.line, row.note) for row in sheet.rows] == [(2, "Größe"), (4, "")]
    cells = read_cells(path)
    assert cells.cell(0, "note") == "Größe"
    assert cells.content().removeprefix(b"\xff\xfe") == path.read_bytes().removeprefix(b"\xff\xfe")
    table = read_table(written(tmp_path / "t.csv", TABLE, encoding, delimiter), said.append)
    assert table.frames[0].file == "Größe"
    assert table.frames[0].channels["G"].mean_dn == 20.0
    tags = read_assets(written(tmp_path / "s.csv", ASSETS, encoding, delimiter), said.append)
    assert tags == {"000100": "Größe"}
    noticed = [each.partition(":")[0] for each in said]
    assert noticed == (["a.csv", "t.csv", "s.csv"] if encoding == "cp1252" else [])
    assert bool(cells.notice) is (encoding == "cp1252")
    assert all("Windows-1252" in each for each in said)


def test_letters_that_an_encoding_lacks_make_the_sheet_utf_8(tmp_path):
    path = written(tmp_path / "a.csv", SHEET, "cp1252", ",")
    changed, _ = edit_cells(read_cells(path), [Edit(row=0, file="*", values={"note": "кадр"})])
    assert "кадр" in changed.content().decode("utf-8-sig")


def test_a_mean_that_was_published_has_no_spread_and_no_clip(tmp_path):
    path = written(tmp_path / "t.csv", TABLE, "utf-8", ",")
    cell = read_table(path).frames[0].channels["R"]
    assert (cell.n, cell.mean_dn, cell.median_dn, cell.top_dn) == (1, 10.0, 10.0, 10.0)
    assert (cell.low_edge_dn, cell.high_edge_dn) == (10.0, 10.0)
    assert (cell.variance_dn2, cell.neighbour_variance_dn2) == (0.0, 0.0)
    assert (cell.top_share, cell.gradient) == (0.0, 0.0)


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_a_changed_sheet_keeps_its_line_ends(tmp_path, end):
    path = tmp_path / "a.csv"
    path.write_bytes(SHEET.replace("\n", end).encode())
    changed, _ = edit_cells(read_cells(path), [Edit(row=0, file="*", values={"note": "a"})])
    assert changed.content() == SHEET.replace("Größe", "a").replace("\n", end).encode()


@pytest.mark.parametrize("data", [b"file\0reading", b"\x89PNG\x00", b"file,\x81\x8d\n"])
def test_what_is_not_text_is_refused(tmp_path, data):
    path = tmp_path / "a.csv"
    path.write_bytes(data)
    for read, kind in ((read_sheet, SheetError), (read_table, MeasureError)):
        with pytest.raises(kind, match="it isn't text"):
            read(path)


def test_a_row_is_named_where_quotation_marks_are_open(tmp_path):
    path = tmp_path / "t.csv"
    path.write_text('R,G\n1,"2\n')
    with pytest.raises(MeasureError, match=r"row 2 isn't valid CSV.*quotation marks"):
        read_table(path)


def test_examples_in_docstrings():
    assert doctest.testmod(csv_text).failed == 0
