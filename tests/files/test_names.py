"""Names that mean the same file, and the sheet that holds them."""

from __future__ import annotations

import unicodedata

import pytest

from profiler.errors import SheetError
from profiler.files.regular import meant
from profiler.files.sheet import check_files, named_as, parse_sheet

COMPOSED = unicodedata.normalize("NFC", "Küste_1.dng")
APART = unicodedata.normalize("NFD", COMPOSED)


@pytest.mark.parametrize(
    ("typed", "known", "found"),
    [
        ("a.dng", ["a.dng", "A.dng"], "a.dng"),  # itself goes before what reads alike
        ("A.DNG", ["a.dng", "b.dng"], "a.dng"),
        ("A.DNG", ["a.dng", "A.dng"], None),  # two read alike
        (COMPOSED, [APART], APART),
        (APART, [COMPOSED.upper()], COMPOSED.upper()),
        ("c.dng", ["a.dng"], None),
        ("a.dn", ["a.dng"], None),
    ],
)
def test_a_name_means_the_only_one_that_reads_alike(typed, known, found):
    assert meant(typed, known) == found


def test_a_sheet_takes_the_spelling_of_its_files():
    sheet = parse_sheet(f"file,reading,mode\n*,EV 12,spot\nIMG_1.DNG,dark,\n{APART},dark,\n", "s")
    files = ["img_1.dng", COMPOSED]
    check_files(sheet, files)
    named, told = named_as(sheet, files)
    assert [row.file for row in named.rows] == ["*", *files]
    assert "IMG_1.DNG" in told
    assert "spelled otherwise" in told
    assert named_as(named, files) == (named, "")


def test_two_files_that_read_alike_are_not_guessed():
    sheet = parse_sheet("file,reading\nIMG_1.DNG,dark\n", "s")
    with pytest.raises(SheetError, match="there is no file"):
        check_files(sheet, ["img_1.dng", "Img_1.dng"])
