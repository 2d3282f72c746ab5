"""What is wrong while it can be mended, from arrays drawn here and not by the simulator."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from profiler.calibration.exposures import Exposure
from profiler.follow.records import Point
from profiler.follow.wrong import changed_shapes, off_the_line, other_apertures
from profiler.frames.blocks import LightShape

ROWS, COLUMNS = 24, 32


def points(deviations):
    return [
        Point(
            file=f"f{i}",
            time_s=0.01,
            placement_ev=float(i),
            level_dn={"Y": 100.0},
            part=0.1,
            clipped=False,
            deviation_ev=deviation,
        )
        for i, deviation in enumerate(deviations)
    ]


def said(found):
    return [(each.kind, each.files) for each in found]


@pytest.mark.parametrize(
    ("deviations", "expected"),
    [
        ([0.0, 0.03, -0.04, 0.02], []),
        ([0.0, 0.0, 0.0, 0.5, 0.0], [("light", ("f3",))]),
        ([0.0, 0.0, 0.0, -0.5], [("light", ("f3",))]),
        ([0.0, 0.0, 0.0, 0.0, 0.0, -0.5, -0.45, -0.55], [("light", ("f5", "f6", "f7"))]),
        ([0.0, 0.6], []),  # of two frames nobody knows which is the odd one
        ([0.0, None, 0.6, None], []),
        ([0.0, 0.3, -0.3, 0.28, -0.25, 0.3], []),  # wide scatter is no change of the light
    ],
)
def test_frames_off_the_line(deviations, expected):
    known = [abs(each) for each in deviations if each is not None]
    found = off_the_line(points(deviations), 1.4826 * float(np.median(known)), {})
    assert said(found) == expected


def test_size_keeps_its_sign():
    (found,) = off_the_line(points([0.0, 0.0, 0.0, 0.0, -0.5]), 0.0, {})
    assert found.size_ev == pytest.approx(-0.5)


def test_reading_that_leaps_by_as_much_as_its_frame_is_off_is_the_culprit():
    own = {f"f{i}": 10.0 for i in range(5)} | {"f2": 11.0}
    deviations = [0.0, 0.0, -1.0, 0.0, 0.0]  # placed a stop too high, so a stop under the line
    assert said(off_the_line(points(deviations), 0.0, own)) == [("reading", ("f2",))]
    # light that rose, with a meter that saw it: the frame lies on the line and nothing is said
    assert off_the_line(points([0.0] * 5), 0.0, own) == []
    # a frame off the line whose reading leaps the other way is no slip of the pen
    assert said(off_the_line(points([0.0, 0.0, 1.0, 0.0, 0.0]), 0.0, own)) == [("light", ("f2",))]


def exposure(file, f_number, **more):
    values = {
        "iso": 400,
        "time_s": 0.01,
        "t_stop": None,
        "nd_stops": 0.0,
        "magnification": 0.0,
        "dark": False,
        "use": True,
        "cfa": "",
        "lens": "",
        "readings": {},
        "texts": {},
        "own_reading": False,
    }
    return Exposure(file=file, f_number=f_number, **(values | more))


def test_other_aperture_is_named_by_size_and_sign():
    frames = [exposure("a", 5.6), exposure("b", 5.6), exposure("c", 8.0), exposure("d", 5.6)]
    (found,) = other_apertures(frames)
    assert found.files == ("c",)
    assert found.size_ev == pytest.approx(1.03, abs=0.01)
    assert other_apertures(frames[:2]) == []
    frames[2] = replace(frames[2], use=False)
    assert other_apertures(frames) == []


def test_first_aperture_is_the_plan_where_two_stand_against_two():
    frames = [exposure("a", 5.6), exposure("b", 8.0)]
    assert other_apertures(frames)[0].files == ("b",)


def scene(seed=1, card=(6, 18, 8, 24), glare=0.0, tilt=0.0, card_ev=0.0):
    """A card on a wall a stop and a half darker, with the noise of averaged cells."""
    rng = np.random.default_rng(seed)
    stops = np.full((ROWS, COLUMNS), -1.5)
    top, bottom, left, right = card
    stops[top:bottom, left:right] = card_ev
    row, column = np.mgrid[:ROWS, :COLUMNS]
    away = np.hypot(row - 11.0, column - 15.0)
    stops += np.log2(1.0 + glare * np.exp(-0.5 * (away / 1.5) ** 2))
    stops += tilt * (column / COLUMNS - 0.5)
    stops += rng.normal(0.0, 0.01, stops.shape)
    inside = np.zeros(stops.shape, dtype=bool)
    inside[9:15, 12:20] = True
    return LightShape(stops=stops, inside=inside)


def series(odd):
    return {f"f{i}": scene(i) for i in range(4)} | {"odd": odd} | {"f5": scene(9)}


@pytest.mark.parametrize(
    ("odd", "kind"),
    [
        (scene(20, glare=0.25), "glare"),
        (scene(21, card=(6, 18, 10, 26)), "moved"),
        (scene(22, card=(8, 20, 8, 24)), "moved"),
        (scene(23, tilt=0.8), "shadow"),
    ],
)
def test_changed_light_is_told_from_moved_card_and_reflection(odd, kind):
    assert said(changed_shapes(series(odd))) == [(kind, ("odd",))]


def test_steady_scene_says_nothing_and_dark_cells_are_passed_over():
    assert changed_shapes(series(scene(30))) == []
    dark = scene(31)
    stops = dark.stops.copy()
    stops[stops < -1.0] = np.nan  # a frame too dark to show the wall
    assert changed_shapes(series(replace(dark, stops=stops))) == []


def test_shapes_of_another_size_are_not_compared():
    small = LightShape(stops=np.zeros((3, 4)), inside=np.ones((3, 4), dtype=bool))
    assert changed_shapes(series(small)) == []
