"""Series of mosaics that some frames are recorded otherwise in."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))

from planes import headroom_ev, mosaic, write_planes

from profiler.calibration import pipeline
from profiler.errors import MeasureError
from profiler.files.level_table import read_table, write_table
from profiler.files.sheet import parse_sheet
from profiler.frames.cache import MeasureCache

PATCH = "0.25,0.25,0.5,0.5"


def fit(folder, sheet, **options):
    cache = MeasureCache(folder.parent / "cache")
    try:
        measured = pipeline.measure(folder, sheet, cache=cache, patch=PATCH, **options)
    finally:
        cache.close()
    return pipeline.fit(measured, sheet), measured


def test_plain_series(tmp_path):
    profile, _ = fit(tmp_path / "s", write_planes(tmp_path / "s"))
    (result,) = profile.results
    assert result.clip_headroom_ev.value == pytest.approx(headroom_ev(), abs=0.01)
    assert not result.clip_headroom_ev.lower_bound


@pytest.mark.parametrize("step", [2, 4, 8])
def test_coarse_codes_throughout_are_taken(tmp_path, step):
    """Half the frames of a 12-bit mode in a 14-bit file show it, the others are too narrow to."""
    sheet = write_planes(tmp_path / "s", lambda _, v: np.round(v / step) * step)
    (result,) = fit(tmp_path / "s", sheet)[0].results
    assert result.clip_headroom_ev.value == pytest.approx(headroom_ev(), abs=0.01)
    assert "code-gaps" in {flag.name for flag in result.flags}


@pytest.mark.parametrize("coarse", [{4, 5}, {3, 6, 7}, {0, 1, 2, 3, 4}, {6}, {2}])
def test_coarse_codes_in_some_frames_are_refused(tmp_path, coarse):
    sheet = write_planes(tmp_path / "s", lambda k, v: np.floor(v / 4) * 4 if k in coarse else v)
    named = min(coarse)
    with pytest.raises(MeasureError, match=rf"f0{named}\.tif is coded in steps of 4, f\d+\.tif in"):
        fit(tmp_path / "s", sheet)


def test_mixture_is_seen_in_a_table_too(tmp_path):
    sheet = write_planes(tmp_path / "s", lambda k, v: np.floor(v / 4) * 4 if k == 5 else v)
    cache = MeasureCache(tmp_path / "cache")
    measured = pipeline.measure(tmp_path / "s", sheet, cache=cache, patch=PATCH)
    cache.close()
    table = tmp_path / "t.csv"
    table.write_text(write_table(measured))
    assert read_table(table).frames[5].channels == measured.frames[5].channels
    with pytest.raises(MeasureError, match=r"f05\.tif is coded in steps of 4"):
        pipeline.fit(read_table(table), sheet)


@pytest.mark.parametrize("frame", [1, 3, 5, 6])
@pytest.mark.parametrize(
    ("letters", "shift"), [("GRBG", "a column"), ("GBRG", "a row"), ("BGGR", "a row and a column")]
)
def test_frame_that_begins_elsewhere_is_refused(tmp_path, letters, shift, frame):
    """The sheet says RGGB of all, the pixels of one frame lie a pixel aside."""
    sheet = write_planes(
        tmp_path / "s", lambda k, v: mosaic(k, letters=letters) if k == frame else v
    )
    with pytest.raises(MeasureError, match=rf"f0{frame}\.tif: its colours stand {shift} aside"):
        fit(tmp_path / "s", sheet)


def test_frame_that_says_so_is_refused(tmp_path):
    text = "\n".join(
        f"{line}GRBG" if line.startswith("f03") else line
        for line in sheet_text(tmp_path / "s", {3: "GRBG"})
    )
    sheet = parse_sheet(text + "\n", "sheet.csv")
    with pytest.raises(MeasureError, match=r"f03\.tif: its colour mosaic begins GR/BG, that of"):
        fit(tmp_path / "s", sheet)


def test_frame_left_out_may_begin_elsewhere(tmp_path):
    head, *lines = sheet_text(tmp_path / "s", {3: "GRBG"})
    lines = [f"{line}GRBG,no" if line.startswith("f03") else f"{line}," for line in lines]
    sheet = parse_sheet("\n".join([f"{head},use", *lines]) + "\n", "sheet.csv")
    assert fit(tmp_path / "s", sheet)[0].results


def sheet_text(folder, letters):
    sheet = write_planes(folder, lambda k, v: mosaic(k, letters=letters[k]) if k in letters else v)
    lines = ["file,reading,mode,iso,time,aperture,cfa", "*,EV 10,spot,100,,8,RGGB"]
    return lines + [f"{row.file},,,,{row.time_s},," for row in sheet.rows[1:]]


@pytest.mark.parametrize("odd", [1, 3])
def test_hot_pixels_above_clip_leave_the_clip_where_it_is(tmp_path, odd):
    def heated(_, values):
        values = values.copy()
        values[np.arange(odd) * 4 + 40, 60] = 16383.0
        return values

    (result,) = fit(tmp_path / "s", write_planes(tmp_path / "s", heated))[0].results
    assert result.clip_headroom_ev.value == pytest.approx(headroom_ev(), abs=0.01)
    assert {result.channels[name].clip_dn for name in ("G1", "G2", "B")} == {15520.0}
