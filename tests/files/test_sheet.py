"""Sheets: what is understood, and one sentence for each thing that is not."""

from __future__ import annotations

import pytest

from profiler.errors import SheetError
from profiler.files.sheet import (
    check_files,
    exposure_cells,
    new_sheet,
    parse_sheet,
    read_sheet,
)

GOOD = """\
file,reading,mode,iso,time,aperture,t_stop,nd_stops,use,note,lamp
*,EV 10.3,spot,,,,,,,north window,A
IMG_1.dng,f/8 1/125 ISO 100,incident-flat,400,1/60,f/5.6,T6,3,no,,B
IMG_2.dng,dark,,,,,,,,cap on,
"""


def test_cells_are_understood():
    sheet = parse_sheet(GOOD, "sheet.csv")
    general, own, dark = sheet.rows
    assert (general.file, general.mode, general.reading.value) == ("*", "spot", 10.3)
    assert (own.iso, own.time_s, own.aperture, own.t_stop) == (400, 1 / 60, 5.6, 6.0)
    assert (own.nd_stops, own.use, own.line) == (3.0, False, 3)
    assert dark.dark
    assert "lamp" in sheet.columns
    assert [row.line for row in sheet.of("IMG_1.dng")] == [2, 3]


@pytest.mark.parametrize(
    ("text", "use"),
    [
        ("yes", True),
        ("Y", True),
        ("1", True),
        ("No", False),
        ("n", False),
        ("0", False),
        ("", None),
    ],
)
def test_each_way_to_say_whether_a_frame_is_used(text, use):
    assert parse_sheet(f"file,use\na.dng,{text}\n", "s").rows[0].use is use


@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_spreadsheets_of_other_countries(delimiter):
    text = f"file{delimiter}reading{delimiter}mode\n*{delimiter}EV 10,3{delimiter}spot\n"
    assert parse_sheet(text, "s").rows[0].reading.value == 10.3


def test_byte_order_mark_and_blank_rows(tmp_path):
    path = tmp_path / "sheet.csv"
    path.write_bytes(b"\xef\xbb\xbffile,reading,mode\r\n\r\n*,650 lx,incident-flat\r\n,,\r\n")
    assert len(read_sheet(path).rows) == 1


BAD = [  # text, where, what
    ("", "s.csv", "empty"),
    ("name,reading\n", "s.csv", "no column 'file'"),
    ("file,file\n", "s.csv", "stands twice"),
    ("file,readng,mode\n", "s.csv", "'readng' is not known"),
    ("file,reading,mode\n*,EV ten,spot\n", "row 2, column reading", "'ev' is not understood"),
    ("file,reading,mode\n*,EV 10,spt\n", "row 2, column mode", "isn't a meter mode"),
    ("file,reading,mode\n*,EV 10,\n", "row 2, column mode", "has no mode"),
    ("file,reading,mode\n,EV 10,spot\n", "row 2, column file", "empty"),
    ("file,time\na.dng,1/0\n", "row 2, column time", "isn't a shutter time"),
    ("file,aperture\na.dng,f/0\n", "row 2, column aperture", "isn't a usable value"),
    ("file,iso\na.dng,ISO x\n", "row 2, column iso", "isn't a usable value"),
    ("file,iso\na.dng,400.5\n", "row 2, column iso", "isn't an ISO label"),
    ("file,use\na.dng,maybe\n", "row 2, column use", "neither yes nor no"),
    ("file,note\na.dng,one,two\n", "row 2", "3 cells under 2 columns"),
    ('file,note\na.dng,"open\n', "s.csv", "isn't valid CSV"),
]


@pytest.mark.parametrize(("text", "where", "what"), BAD)
def test_errors_name_row_and_column(text, where, what):
    with pytest.raises(SheetError, match=what) as caught:
        parse_sheet(text, "s.csv")
    assert where in caught.value.where
    assert caught.value.mend


def test_unknown_file_suggests_the_nearest():
    sheet = parse_sheet("file,reading\nIMG_O1.dng,dark\n", "s.csv")
    with pytest.raises(SheetError, match=r"no file 'IMG_O1\.dng'") as caught:
        check_files(sheet, ["IMG_01.dng", "IMG_02.dng"])
    assert "IMG_01.dng" in caught.value.mend


def test_missing_sheet(tmp_path):
    with pytest.raises(SheetError, match="no such sheet"):
        read_sheet(tmp_path / "none.csv")


def test_new_sheet_reads_back():
    text = new_sheet([{"file": "*"}, {"file": "a,b.dng", "iso": "400", "time": "1/60"}])
    rows = parse_sheet(text, "new").rows
    assert [(row.file, row.iso, row.time_s) for row in rows] == [
        ("*", None, None),
        ("a,b.dng", 400, 1 / 60),
    ]


def test_of_many_names_four_are_told_and_the_rest_counted():
    with pytest.raises(SheetError, match=r"it has a, b, c, d and 2 more\)"):
        parse_sheet("a,b,c,d,e,f\n1,2,3,4,5,6\n", "sheet.csv")
    with pytest.raises(SheetError, match=r"it has a, b, c, d\)"):
        parse_sheet("a,b,c,d\n1,2,3,4\n", "sheet.csv")


def test_cells_of_an_exposure_are_empty_where_the_file_is_silent():
    assert exposure_cells(None, None, None) == {"iso": "", "time": "", "aperture": ""}
    assert exposure_cells(400, 0.008, 5.6) == {"iso": "400", "time": "1/125", "aperture": "5.6"}
