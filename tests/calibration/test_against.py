"""A sheet that contradicts the files is told of, with its row and both values; it still counts."""

from __future__ import annotations

import pytest

from profiler import simulate
from profiler.calibration import pipeline
from profiler.calibration.against import largest
from profiler.calibration.exposures import join
from profiler.files.sheet import parse_sheet
from profiler.records import FrameTags, Tag
from profiler.simulate.memory import measure_in_memory


def tagged(iso=400, time_s=1 / 60, aperture=5.6):
    said = {"iso": iso, "time_s": time_s, "aperture": aperture}
    return FrameTags(
        **{k: None if v is None else Tag(value=v, source="file") for k, v in said.items()}
    )


def against(cells, tags, column="aperture"):
    sheet = parse_sheet(f"file,reading,mode,{column}\n*,EV 10.1,spot,{cells}\n", "sheet.csv")
    return [(one.size_ev, words) for one, words in largest(join(sheet, "a.dng", tags).against)]


@pytest.mark.parametrize(
    ("column", "cell", "size", "words"),
    [
        ("aperture", "f/56", -6.64, "row 2, aperture: f/56 stands in the sheet, f/5.6 in a.dng"),
        ("aperture", "4", 0.97, "row 2, aperture: f/4 stands in the sheet, f/5.6 in a.dng"),
        ("time", "1/6", 3.32, "row 2, time: 1/6 s stands in the sheet, 1/60 s in a.dng"),
        ("iso", "800", 1.0, "row 2, iso: ISO 800 stands in the sheet, ISO 400 in a.dng"),
        ("t_stop", "T2.8", 2.0, "row 2, t_stop: T2.8 stands in the sheet, f/5.6 in a.dng"),
        ("t_stop", "T11", -1.95, "row 2, t_stop: T11 stands in the sheet, f/5.6 in a.dng"),
    ],
)
def test_both_values_their_row_and_the_size_are_told(column, cell, size, words):
    # sizes by hand: log2 of times and labels, 2 log2 of f-numbers
    ((found, told),) = against(cell, tagged(), column)
    assert found == pytest.approx(size, abs=0.005)
    assert told == words


@pytest.mark.parametrize(
    ("column", "cell", "tags"),
    [
        ("aperture", "f/6.3", tagged()),  # the next third
        ("aperture", "1.4", tagged(aperture=1.2)),
        ("aperture", "f/8", tagged(aperture=None)),  # a lens that tells nothing
        ("aperture", "f/8", tagged(aperture=0)),  # an adapted one
        ("time", "125", tagged(time_s=0)),  # bulb
        ("time", "0.3", tagged(time_s=0.4)),
        ("iso", "50", tagged(iso=None)),
        ("t_stop", "T6.3", tagged()),
        ("t_stop", "T9", tagged()),  # a filter at the stop
    ],
)
def test_marks_beside_each_other_and_silent_files_are_no_contradiction(column, cell, tags):
    assert against(cell, tags, column) == []


def test_the_row_of_a_frame_goes_before_the_one_for_all():
    text = "file,reading,mode,aperture\n*,EV 10.1,spot,f/56\na.dng,,,f/5.6\nc.dng,,,8\n"
    sheet = parse_sheet(text, "sheet.csv")
    found = {f: join(sheet, f, tagged()).against for f in ("a.dng", "b.dng", "c.dng")}
    assert [(f, [one.row for one in each]) for f, each in found.items()] == [
        ("a.dng", []),
        ("b.dng", [2]),
        ("c.dng", [4]),
    ]


def test_the_result_carries_it_and_the_sheet_wins():
    spec = simulate.standard_series(
        simulate.load_body("halden-h2"), 5, labels=(400,), size=(96, 64), pairs=True, darks=2
    )
    measurement, sheet = measure_in_memory(spec, 0.6)
    clean = pipeline.fit(measurement, sheet)
    assert [f.name for f in clean.results[0].flags if f.name == "sheet-against-files"] == []
    reading = clean.provenance.readings["spot"][0]
    wrong = parse_sheet(f"file,reading,mode,aperture\n*,{reading},spot,f/11\n", "sheet.csv")
    (result,) = pipeline.fit(measurement, wrong).results
    (flag,) = [f for f in result.flags if f.name == "sheet-against-files"]
    assert flag.size == pytest.approx(-1.95, abs=0.01)
    assert flag.detail == "(row 2, aperture: f/11 stands in the sheet, f/5.6 in the files)"
    shift = result.offset_ev.value - clean.results[0].offset_ev.value
    assert shift == pytest.approx(-2.0, abs=0.1)
