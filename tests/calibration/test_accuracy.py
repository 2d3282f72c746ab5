"""Simulated series against their truth, through real raw files."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from profiler import simulate
from profiler.calibration import pipeline
from profiler.files.sheet import read_sheet
from profiler.frames.cache import MeasureCache

SEEDS = range(1, 21)
BODIES = {"bayer": "halden-h2", "x-trans": "orrin-x6", "monochrome": "merle-m1"}


def errors(body: str, scatter_ev: float, folder) -> np.ndarray:
    """(n, 2) errors of offset and headroom over all seeds and labels; 24 frames a seed."""
    out = []
    for seed in SEEDS:
        spec = simulate.standard_series(
            simulate.load_body(BODIES[body]), seed, shutter_scatter_ev=scatter_ev, darks=0
        )
        spec = replace(spec, meter=replace(spec.meter, resolution_ev=0.0))
        assert len(spec.shots) == 24
        files = simulate.write_series(spec, folder / str(seed))
        cache = MeasureCache(folder / "cache")
        sheet = read_sheet(files.sheet)
        profile = pipeline.fit(pipeline.measure(files.folder, sheet, cache=cache), sheet)
        cache.close()
        truth = json.loads(files.truth.read_text())["results"]
        assert [r.iso for r in profile.results] == [t["iso"] for t in truth]
        for result, true in zip(profile.results, truth, strict=True):
            assert result.first_to_clip == true["first_to_clip"]
            out.append(
                (
                    result.offset_ev.value - true["offset_ev"],
                    result.clip_headroom_ev.value - true["clip_headroom_ev"],
                )
            )
    return np.array(out)


@pytest.mark.parametrize("body", BODIES)
def test_exact_frames(body, tmp_path):
    assert np.max(np.abs(errors(body, 0.0, tmp_path))) <= 0.01


@pytest.mark.parametrize("body", BODIES)
def test_shutter_scatter(body, tmp_path):
    rms = np.sqrt(np.mean(errors(body, 0.05, tmp_path) ** 2, axis=0))
    assert np.all(rms <= 0.03)
