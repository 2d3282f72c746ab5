"""Fields that neither file nor sheet gives: asked about, all in one message, never a number."""

from __future__ import annotations

import shutil

import exiv2
import pytest
from click.testing import CliRunner

from profiler import simulate
from profiler.calibration import pipeline
from profiler.cli.calibrate.measure import _new_sheet
from profiler.cli.main import greytare
from profiler.errors import SheetError
from profiler.files.level_table import read_table
from profiler.files.sheet import parse_sheet, read_sheet
from profiler.frames.cache import MeasureCache

APEX = {"FNumber": "ApertureValue", "ExposureTime": "ShutterSpeedValue"}
PATCH = "0.4,0.4,0.2,0.2"


@pytest.fixture(scope="module")
def series(tmp_path_factory):
    spec = simulate.standard_series(simulate.load_body("halden-h2"), 5, labels=(400,), darks=1)
    return simulate.write_series(spec, tmp_path_factory.mktemp("series") / "s")


@pytest.fixture(scope="module")
def cache(tmp_path_factory):
    return MeasureCache(tmp_path_factory.mktemp("cache"))


def emptied(series, folder, changes):
    """A copy of the series; changes: file -> tag -> text, "" to take the field out."""
    shutil.copytree(series.folder, folder)
    for file, fields in changes.items():
        image = exiv2.ImageFactory.open(str(folder / file))
        image.readMetadata()
        data = image.exifData()
        for name, text in fields.items():
            key = f"Exif.Photo.{name}"
            if text:
                data[key] = text
                if name in APEX:
                    data[f"Exif.Photo.{APEX[name]}"] = "0/1"
            else:
                data.erase(data.findKey(exiv2.ExifKey(key)))
        image.writeMetadata()
    return folder


def fit(folder, cache, sheet):
    return pipeline.fit(pipeline.measure(folder, sheet, cache=cache, patch=PATCH), sheet)


@pytest.mark.parametrize("empty", ["0/10", "0/0", "0/1", ""])
@pytest.mark.parametrize(("tag", "column"), [("FNumber", "aperture"), ("ExposureTime", "time")])
def test_emptied_tag_is_asked_about(series, cache, tmp_path, tag, column, empty):
    name = series.frames[2].name
    folder = emptied(series, tmp_path / "s", {name: {tag: empty}})
    sheet = read_sheet(series.sheet)
    with pytest.raises(SheetError, match=f"give the {column} of {name}") as caught:
        fit(folder, cache, sheet)
    assert caught.value.where == sheet.name
    assert f"Fill the column {column} of" in caught.value.mend


def test_all_of_a_series_in_one_message(series, cache, tmp_path):
    first, second, third = (path.name for path in series.frames[:3])
    dark = series.frames[-1].name
    folder = emptied(
        series,
        tmp_path / "s",
        {
            first: {"FNumber": "0/10", "ISOSpeedRatings": "0"},
            second: {"FNumber": "0/10"},
            third: {"ExposureTime": "0/1"},
            dark: {"ISOSpeedRatings": "0", "ExposureTime": "0/1", "FNumber": "0/1"},
        },
    )
    sheet = read_sheet(series.sheet)
    with pytest.raises(SheetError) as caught:
        fit(folder, cache, sheet)
    assert caught.value.what == (
        f"neither the files nor the sheet give the iso of {first}, {dark}; time of {third}; "
        f"aperture of {first}, {second}"
    )
    text, missing = _new_sheet(folder)
    assert f"time of {third}, {dark}; aperture of {first}, {second}, {dark}" in missing
    assert f"\n{first},,,,1/" in text
    # filled in, nothing is missing any more
    lines = series.sheet.read_text() + (
        f"{first},,,400,,8,,,,\n{second},,,,,8,,,,\n{third},,,,1/60,,,,,\n{dark},,,400,,,,,,\n"
    )
    fit(folder, cache, parse_sheet(lines, "sheet.csv"))


def test_field_of_no_frame_is_said_of_every_frame(series, cache, tmp_path):
    changes = {path.name: {"FNumber": ""} for path in series.frames}
    folder = emptied(series, tmp_path / "s", changes)
    sheet = read_sheet(series.sheet)
    with pytest.raises(SheetError, match=r"give the aperture of every frame\. .*the file \*"):
        fit(folder, cache, sheet)
    assert _new_sheet(folder)[1] == "aperture of every frame"


def test_frame_that_is_not_used_needs_nothing(series, cache, tmp_path):
    name = series.frames[2].name
    folder = emptied(series, tmp_path / "s", {name: {"FNumber": "0/10"}})
    sheet = parse_sheet(series.sheet.read_text() + f"{name},,,,,,,,no,\n", "sheet.csv")
    assert fit(folder, cache, sheet).results


def test_new_sheet_says_what_a_fit_takes(series, cache, tmp_path):
    """A fit with the new sheet, readings filled in, gives the same numbers as without."""
    text, missing = _new_sheet(series.folder)
    assert missing == ""
    head, *rows = text.splitlines()
    dark = series.frames[-1].name
    rows = [f"{dark},dark{row[len(dark) + 1 :]}" if row.startswith(dark) else row for row in rows]
    given = series.sheet.read_text().splitlines()[1:]
    filled = parse_sheet("\n".join([head, *given, *rows[1:]]), "new.csv")
    plain = read_sheet(series.sheet)
    assert fit(series.folder, cache, filled).results == fit(series.folder, cache, plain).results


@pytest.mark.parametrize(
    ("columns", "missing"),
    [
        ("0.01,8,0", "iso of row 3"),
        ("0.01,8,0.5", "iso of row 3"),
        ("0,8,400", "time of row 3"),
        ("-1,8,400", "time of row 3"),
        ("0.01,0,400", "aperture of row 3"),
    ],
)
def test_zeros_in_a_table_are_missing(tmp_path, columns, missing):
    table = tmp_path / "t.csv"
    table.write_text(f"time_s,f_number,iso,G\n0.02,8,400,2000\n{columns},1000\n0.005,8,400,500\n")
    sheet = parse_sheet("file,reading,mode\n*,EV 10,spot\n", "sheet.csv")
    with pytest.raises(SheetError, match=missing):
        pipeline.fit(read_table(table), sheet)


def test_a_sheet_where_fit_looks_for_it_needs_no_option(series, tmp_path):
    folder = emptied(series, tmp_path / "own", {})
    asked = ["measure", str(folder), "--new-sheet", str(folder / "sheet.csv"), "--replace"]
    said = CliRunner().invoke(greytare, asked).output
    assert f"Then: greytare fit {folder} --out BODY.profile.json" in said
