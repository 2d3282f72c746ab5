"""Mosaics of 8 bits, by themselves or spread over 16, that the user vouches for."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))

from planes import BLACK_DN, CLIP_DN, METERED_DN, headroom_ev, write_planes

from profiler.calibration import pipeline
from profiler.calibration.exposures import join_all
from profiler.calibration.groups import group_frames, label_data
from profiler.errors import FrameError
from profiler.files.level_table import read_table, write_table
from profiler.frames.cache import MeasureCache
from profiler.records import Meter

PATCH = "0.25,0.25,0.5,0.5"
SCALE = 255.0 / CLIP_DN


def to_8_bits(rule):
    return lambda _, values: np.clip(rule(values * SCALE), 0, 255)


def measure(folder, sheet, **options):
    cache = MeasureCache(folder.parent / "cache")
    try:
        return pipeline.measure(folder, sheet, cache=cache, patch=PATCH, **options)
    finally:
        cache.close()


@pytest.mark.parametrize("suffix", [".tif", ".png"])
@pytest.mark.parametrize("rule", [np.rint, np.floor])
def test_eight_bits_are_measured_with_their_rounding(tmp_path, suffix, rule):
    sheet = write_planes(tmp_path / "s", to_8_bits(rule), np.uint8, suffix)
    measured = measure(tmp_path / "s", sheet, allow_8bit=True)
    (result,) = pipeline.fit(measured, sheet).results
    assert result.clip_headroom_ev.low < headroom_ev() < result.clip_headroom_ev.high
    assert abs(result.clip_headroom_ev.value - headroom_ev()) < 0.1
    assert not result.clip_headroom_ev.lower_bound
    assert result.channels["G1"].clip_dn == 255.0
    assert "eight-bit" in {flag.name for flag in result.flags}
    (row,) = [row for row in result.budget if row.source == "rounding to codes"]
    half_dn, level_dn = 0.5, METERED_DN * SCALE
    # a rectangle of half a code: its standard uncertainty is the half width over sqrt(3)
    expected = np.log2(1.0 + half_dn / level_dn) / np.sqrt(3.0)
    assert row.contribution_ev == pytest.approx(expected, rel=0.1)
    assert {frame.tags.bits.value for frame in measured.frames} == {8}


def test_without_a_word_they_are_refused(tmp_path):
    sheet = write_planes(tmp_path / "s", to_8_bits(np.rint), np.uint8)
    with pytest.raises(FrameError, match=r"f\d+\.tif: the values have 8 bits only.*allow 8bit"):
        measure(tmp_path / "s", sheet)


def test_once_allowed_is_not_allowed_for_ever(tmp_path):
    """The cache holds the frames from the first run."""
    sheet = write_planes(tmp_path / "s", to_8_bits(np.rint), np.uint8)
    measure(tmp_path / "s", sheet, allow_8bit=True)
    with pytest.raises(FrameError, match="the values have 8 bits only"):
        measure(tmp_path / "s", sheet)
    assert measure(tmp_path / "s", sheet, allow_8bit=True).decoded == 0


@pytest.mark.parametrize("spread", [257, 256])
def test_eight_bits_spread_over_sixteen(tmp_path, spread):
    """A picture program writes 8-bit data into 16-bit files so."""
    sheet = write_planes(tmp_path / "s", lambda _, v: np.clip(np.rint(v * SCALE), 0, 255) * spread)
    with pytest.raises(FrameError, match="the values have 8 bits only"):
        measure(tmp_path / "s", sheet)
    (result,) = pipeline.fit(measure(tmp_path / "s", sheet, allow_8bit=True), sheet).results
    assert result.clip_headroom_ev.low < headroom_ev() < result.clip_headroom_ev.high
    assert {"eight-bit", "code-gaps"} <= {flag.name for flag in result.flags}
    (row,) = [row for row in result.budget if row.source == "rounding to codes"]
    assert row.contribution_ev > 0.01


def test_twelve_bits_in_fourteen_have_a_small_row(tmp_path):
    sheet = write_planes(tmp_path / "s", lambda _, v: np.floor(v / 4) * 4)
    (result,) = pipeline.fit(measure(tmp_path / "s", sheet), sheet).results
    (row,) = [row for row in result.budget if row.source == "rounding to codes"]
    assert 0.001 < row.contribution_ev < 0.003
    assert "eight-bit" not in {flag.name for flag in result.flags}


def test_fourteen_bits_have_no_row(tmp_path):
    sheet = write_planes(tmp_path / "s")
    (result,) = pipeline.fit(measure(tmp_path / "s", sheet), sheet).results
    assert "rounding to codes" not in {row.source for row in result.budget}


def test_flag_and_row_pass_through_a_table(tmp_path):
    sheet = write_planes(tmp_path / "s", to_8_bits(np.rint), np.uint8)
    measured = measure(tmp_path / "s", sheet, allow_8bit=True)
    (tmp_path / "t.csv").write_text(write_table(measured))
    again = read_table(tmp_path / "t.csv")
    assert [frame.flags for frame in again.frames] == [frame.flags for frame in measured.frames]
    assert pipeline.fit(again, sheet).results == pipeline.fit(measured, sheet).results


def test_black_of_eight_bits_is_within_its_uncertainty(tmp_path):
    sheet = write_planes(tmp_path / "s", to_8_bits(np.rint), np.uint8)
    (result,) = pipeline.fit(measure(tmp_path / "s", sheet, allow_8bit=True), sheet).results
    assert result.channels["G1"].black_dn == pytest.approx(BLACK_DN * SCALE, abs=1.0)


def test_darkest_level_is_no_surer_than_its_codes(tmp_path):
    """A tenth of a code of noise: the mean of a thousand pixels still lies on one code."""
    sheet = write_planes(tmp_path / "s", to_8_bits(np.rint), np.uint8)
    measured = measure(tmp_path / "s", sheet, allow_8bit=True)
    exposures = join_all(sheet, measured.frames)
    (group,) = group_frames(measured.frames, exposures, "spot")
    data = label_data(group, Meter())
    assert data.mean_u_dn[0].max() > 0.2
    assert data.mean_u_dn[8].max() < 0.1
