"""The numbers of a profile depend on neither threads nor the order of files."""

from __future__ import annotations

import random

import pytest

from profiler import simulate
from profiler.calibration import pipeline
from profiler.files.differences import differences
from profiler.files.sheet import read_sheet
from profiler.frames import folder as frames_folder
from profiler.frames.cache import MeasureCache


@pytest.fixture(scope="module")
def series(tmp_path_factory):
    spec = simulate.standard_series(
        *(simulate.load_body("halden-h2"), 9),
        labels=(200, 400),
        pairs=True,
        darks=2,
        size=(240, 160),
        shutter_scatter_ev=0.03,
    )
    return simulate.write_series(spec, tmp_path_factory.mktemp("repeat") / "s").folder


def profile(series, cache_folder, threads):
    cache = MeasureCache(cache_folder)
    sheet = read_sheet(series / "sheet.csv")
    try:
        return pipeline.fit(
            pipeline.measure(series, sheet, cache=cache, threads=threads), sheet, light="daylight"
        )
    finally:
        cache.close()


def test_threads_change_nothing(series, tmp_path):
    first, *others = (profile(series, tmp_path / str(n), n) for n in (1, 2, 4))
    for other in others:
        assert differences(first, other) == []


@pytest.mark.parametrize("seed", [1, 2])
def test_the_order_of_files_changes_nothing(series, tmp_path, monkeypatch, seed):
    first = profile(series, tmp_path / "a", 2)
    honest, orders = frames_folder.list_frames, []

    def shuffled(folder):
        paths = honest(folder)
        random.Random(seed).shuffle(paths)
        orders.append(paths)
        return paths

    monkeypatch.setattr(frames_folder, "list_frames", shuffled)
    other = profile(series, tmp_path / "b", 2)
    assert orders[-1] != sorted(orders[-1])
    assert differences(first, other) == []
