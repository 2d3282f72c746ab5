"""Which equal frames make a pair."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from profiler.frames import pairs
from profiler.frames.samples import split_channels
from profiler.frames.series_patch import Shot
from profiler.frames.statistics import measure_patch, pair_variance
from profiler.records import FrameMeasure, FrameTags, Tag

MONO = (("Y",),)
GAIN_DN_PER_E = 2.0


def shot(file: str, ev: float = 10.0, **options) -> Shot:
    given = (
        {"signature": (0, 0, 0, 0), "alike": "100 0.01 8", "light": 1.0}
        | {"metered_ev": {"spot": ev}}
        | options
    )
    taken = Tag(value=f"2024-05-01T10:00:{int(file):02d}", source="test")
    return Shot(path=Path(file), file=file, tags=FrameTags(taken_at=taken), **given)


def frame(file: str, level_dn: float, slope: float = 0.0) -> tuple[FrameMeasure, np.ndarray]:
    """A monochrome frame with shot noise and, over its width, a slope of the light."""
    rng = np.random.default_rng(int(file))
    light = level_dn * (1.0 + slope * np.linspace(-0.5, 0.5, 200)) * np.ones((150, 1))
    codes = GAIN_DN_PER_E * rng.poisson(light / GAIN_DN_PER_E)
    values = np.round(codes).astype(np.uint16)
    measure = FrameMeasure(
        file=file, sha256=f"sha{file}", tags=FrameTags(), channels=measure_patch(values, MONO)
    )
    return measure, values


def chosen(shots: list[Shot], levels: list[float]) -> set[tuple[str, str]]:
    """The pairs that are made of shots with these levels."""
    made = [frame(s.file, level) for s, level in zip(shots, levels, strict=True)]
    frames = {measure.file: measure for measure, _ in made}
    samples = {measure.sha256: split_channels(values, MONO) for measure, values in made}
    found = set()
    for window in pairs.windows(shots):
        known = pairs.variances([frames[s.file] for s in window], samples)
        found |= {
            tuple(sorted((a.file, b.file))) for a, b, _ in pairs.choose(window, frames, known)
        }
    return found


def test_frames_under_another_light_are_no_pair():
    shots = [shot("1", 10.0), shot("2", 11.0)]
    assert chosen(shots, [800.0, 1600.0]) == set()
    assert chosen(shots, [800.0, 800.0]) == set()  # the sheet alone rules it out
    assert chosen([shot("1"), shot("2")], [800.0, 1600.0]) == set()  # and so do the levels


def test_readings_of_one_light_may_differ_by_the_meters_own_scatter():
    assert chosen([shot("1", 10.0), shot("2", 10.2)], [800.0, 805.0]) == {("1", "2")}


def test_frames_not_to_be_used_pair_with_none_that_is():
    assert chosen([shot("1"), shot("2", use=False)], [800.0, 800.0]) == set()
    three = [shot("1"), shot("2", use=False), shot("3")]
    assert chosen(three, [800.0, 801.0, 802.0]) == {("1", "3")}


def test_frames_of_unknown_settings_are_no_pair():
    assert chosen([shot("1", alike=""), shot("2", alike="")], [800.0, 800.0]) == set()


@pytest.mark.parametrize("lights", [(10.0, 11.0, 12.0, 13.0), (10.0,) * 4])
def test_the_nearest_in_level_pair_wherever_they_stand(lights):
    """Four lights one after the other, then all of them again; the sheet may tell them or not."""
    shots = [shot(str(k), lights[k % 4]) for k in range(8)]
    levels = [500.0 * 2.0 ** (k % 4) for k in range(8)]
    if len(set(lights)) == 1:
        shots, levels = shots[:6], [500.0 * 2.0 ** (k % 3) for k in range(6)]
    half = len(shots) // 2
    assert chosen(shots, levels) == {(str(k), str(k + half)) for k in range(half)}


def test_a_third_frame_leaves_the_nearest_two_to_each_other():
    shots = [shot("1"), shot("2"), shot("3")]
    assert chosen(shots, [800.0, 840.0, 802.0]) == {("1", "3")}


def test_windows_hold_few_frames_and_none_alone():
    for count in range(1, 40):
        sizes = [len(window) for window in pairs.windows([shot(str(k)) for k in range(count)])]
        assert sum(sizes) == count
        assert max(sizes) <= 7
        assert count == 1 or min(sizes) >= 2


@pytest.mark.parametrize("slope", [0.0, 0.15])
@pytest.mark.parametrize("apart", [0.0, 0.03, 0.08])
def test_noise_of_a_pair_is_that_of_its_mean_level(apart, slope):
    """A slope of the light, scaled by a difference of level, isn't counted as noise."""
    a = frame("1", 4000.0 * (1.0 - apart / 2.0), slope)[1]
    b = frame("2", 4000.0 * (1.0 + apart / 2.0), slope)[1]
    n, variance = pair_variance(a, b, MONO)["Y"]
    assert variance == pytest.approx(GAIN_DN_PER_E * 4000.0, rel=4.0 * np.sqrt(2.0 / n) + 0.002)
