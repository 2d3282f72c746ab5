"""Steady side light is told from pulsing light, by frames drawn here and by simulated files."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from profiler import simulate
from profiler.calibration import pipeline
from profiler.files.sheet import parse_sheet, read_sheet
from profiler.frames.cache import MeasureCache
from profiler.frames.statistics import measure_patch
from profiler.records import FrameMeasure, FrameTags, Measurement, Place

RGGB = (("R", "G1"), ("G2", "B"))
COLOURS = np.array([[0.5, 1.0], [1.0, 0.6]])
BLACK, CLIP, GAIN_E = 512.0, 16383, 1.4
MIDDLE = Place(x=0.5, y=0.5, width=0.25, height=0.25)
LIGHT = ("pulsing-light", "uneven-patch")


def series(shape: tuple[int, int], seed: int, light, place: Place | None = MIDDLE):
    """Flags and gradient row of twelve frames; light(k, x, y) is the k-th one's, 1 in the middle.

    x and y run from -0.5 to 0.5 over the patch. Nothing of the simulator is in it.
    """
    rng = np.random.default_rng([seed, *shape])
    y, x = ((np.mgrid[: shape[0], : shape[1]].T - np.array(shape) / 2.0) / shape).T
    frames, rows = [], ["file,reading,mode,iso,time,aperture"]
    for k in range(12):
        level = 60.0 * 2.0 ** (0.75 * k) * math.exp(rng.normal(0.0, 0.02))
        colour = np.tile(COLOURS, (shape[0] // 2, shape[1] // 2))
        electrons = rng.poisson(GAIN_E * level * colour * light(k, x, y))
        codes = np.rint(BLACK + electrons / GAIN_E + rng.normal(0.0, 4.0, shape))
        values = np.clip(codes, 0, CLIP).astype(np.uint16)
        frames.append(
            FrameMeasure(
                file=f"f{k}",
                sha256=f"f{k}",
                tags=FrameTags(),
                channels=measure_patch(values, RGGB),
                black_tag_dn=dict.fromkeys(("R", "G1", "G2", "B"), BLACK),
                place=place,
            )
        )
        rows.append(f"f{k},EV 10,spot,100,{0.001 * 2.0 ** (0.75 * k):.6g},8")
    sheet = parse_sheet("\n".join(rows), "sheet.csv")
    (result,) = pipeline.fit(Measurement(frames=tuple(frames), patch=""), sheet).results
    half = [row.half_width_ev for row in result.budget if row.source == "patch gradient"]
    return {f.name for f in result.flags if f.name in LIGHT}, max(half, default=0.0)


SHAPES = [(64, 96), (240, 160)]


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("seed", range(5))
def test_even_light_raises_nothing(shape, seed):
    assert series(shape, seed, lambda *_: 1.0)[0] == set()


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("slope", [(0.25, 0.0), (-0.2, 0.1)])
def test_steady_side_light_is_uneven_and_does_not_pulse(shape, seed, slope):
    """With black in the level the slope of a dark frame looked flatter than that of a bright one"""
    found, half = series(shape, seed, lambda _k, x, y: 1.0 + slope[0] * x + slope[1] * y)
    assert found == {"uneven-patch"}
    # a quarter of the change from corner to corner, by the light itself
    assert half == pytest.approx(0.25 * (abs(slope[0]) + abs(slope[1])) / math.log(2.0), rel=0.1)


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("seed", range(5))
def test_coloured_side_light_does_not_pulse(shape, seed):
    """Red light from the left, the rest from the right."""

    def light(_k, x, _y):
        left = np.zeros(shape)
        left[::2, ::2] = 1.0
        return 1.0 + np.where(left == 1.0, 0.2, -0.1) * x

    assert "pulsing-light" not in series(shape, seed, light)[0]


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("depth", [0.05, 0.2])
def test_light_that_changes_from_frame_to_frame_pulses(shape, seed, depth):
    """A tenth of a wave over the patch, at another phase in each frame."""
    phases = np.random.default_rng(seed).uniform(0.0, 2.0 * math.pi, 12)
    found, _ = series(
        shape, seed, lambda k, _x, y: 1.0 + depth * np.sin(phases[k] + 1.5 * math.pi * y)
    )
    assert found == {"pulsing-light"}


def test_a_patch_off_the_middle_says_how_far_the_meter_may_have_been():
    """0.1 over a quarter of the width is 0.4 over the frame, a fifth of it from patch to middle."""
    off = Place(x=0.7, y=0.5, width=0.25, height=0.25)
    found, half = series((120, 120), 1, lambda _k, x, _y: 1.0 + 0.1 * x, off)
    assert found == {"uneven-patch"}
    assert half == pytest.approx((0.25 * 0.1 + 0.2 * 0.4) / math.log(2.0), rel=0.1)
    by_hand = series((120, 120), 1, lambda _k, x, _y: 1.0 + 0.1 * x, None)
    assert by_hand[0] == set()
    assert by_hand[1] == pytest.approx(0.25 * 0.1 / math.log(2.0), rel=0.1)


@pytest.mark.parametrize("size", [(480, 320), (960, 640)])
@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("gradient", [0.3, -0.6])
def test_the_automatic_patch_under_side_light(tmp_path, size, seed, gradient):
    spec = simulate.standard_series(
        simulate.load_body("halden-h2"), seed, labels=(100,), darks=2, size=size
    )
    spec = simulate.FAULTS["card-gradient"].apply(spec, gradient)
    files = simulate.write_series(spec, tmp_path / "s")
    sheet = read_sheet(files.sheet)
    measurement = pipeline.measure(files.folder, sheet, cache=MeasureCache(tmp_path / "c"))
    (result,) = pipeline.fit(measurement, sheet).results
    (truth,) = json.loads(files.truth.read_text())["results"]
    assert [flag.name for flag in result.flags if flag.name in LIGHT] == ["uneven-patch"]
    row = next(row for row in result.budget if row.source == "patch gradient")
    off = measurement.frames[0].place.x - 0.5
    light_ev = gradient * off - 2.0 * spec.scene.vignetting_ev * off**2  # against the middle
    assert row.half_width_ev > abs(light_ev)
    assert result.offset_ev.low < truth["offset_ev"] < result.offset_ev.high
