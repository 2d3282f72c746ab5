"""Equal frames in real files: which of them pair, and that the cache has no say in it."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from profiler import simulate
from profiler.calibration import pipeline
from profiler.files.sheet import parse_sheet, read_sheet
from profiler.frames.cache import MeasureCache

PATCH = "0.4,0.4,0.2,0.2"


@pytest.fixture(scope="module")
def series(tmp_path_factory):
    """Eight settings, each shot twice, with all second frames after all the first ones."""
    spec = simulate.standard_series(
        simulate.load_body("halden-h2"),
        8,
        labels=(100,),
        pairs=True,
        darks=2,
        shutter_scatter_ev=0.02,
    )
    lit = [shot for shot in spec.shots if not shot.dark]
    dark = [shot for shot in spec.shots if shot.dark]
    shots = (*lit[::2], *dark[::2], *lit[1::2], *dark[1::2])
    folder = tmp_path_factory.mktemp("series")
    return simulate.write_series(replace(spec, shots=shots), folder / "s")


def measured(series, cache, extra: str = ""):
    sheet = parse_sheet(series.sheet.read_text() + extra, "sheet.csv")
    return pipeline.measure(series.folder, sheet, cache=cache, patch=PATCH), sheet


def test_pairs_are_found_wherever_they_stand(series, tmp_path):
    measurement, sheet = measured(series, MeasureCache(tmp_path))
    half = len(measurement.frames) // 2
    for first, second in zip(measurement.frames[:half], measurement.frames[half:], strict=True):
        assert (first.pair, second.pair) == (second.file, first.file)
    (result,) = pipeline.fit(measurement, sheet).results
    assert result.flags == ()
    for channel in result.channels.values():
        span_dn = channel.clip_dn - channel.black_dn
        assert channel.full_well_e == pytest.approx(span_dn * channel.gain_e_per_dn)
        # EMVA 1288 Release 4.0: SNR 1 lies at the dark noise and half an electron
        least_dn = channel.read_noise_dn + 0.5 / channel.gain_e_per_dn
        assert channel.dynamic_range_ev == pytest.approx(math.log2(span_dn / least_dn), abs=0.05)


def test_the_cache_has_no_say_in_who_pairs(series, tmp_path):
    """A frame ruled out, or under another light, and back again: as if measured anew each time."""
    names = [path.name for path in series.frames]
    sheets = {
        "out": f"{names[3]},,,,,,,,no,\n",
        "other light": f"{names[3]},EV 3.0,spot,,,,,,,\n",
        "all": "",
    }
    used = MeasureCache(tmp_path / "used")
    for name in ("all", "out", "all", "other light", "all"):
        fresh = MeasureCache(tmp_path / "fresh" / name)
        again, sheet = measured(series, used, sheets[name])
        assert again.frames == measured(series, fresh, sheets[name])[0].frames
        assert pipeline.fit(again, sheet).results[0].channels["G1"].gain_e_per_dn is not None
        partner = {frame.file: frame.pair for frame in again.frames}[names[3]]
        assert (partner == "") == (name != "all")
    assert measured(series, used, sheets["out"])[0].decoded == 0


def test_a_table_measured_under_another_sheet_brings_no_false_pair(series, tmp_path):
    measurement, _ = measured(series, MeasureCache(tmp_path))
    name = measurement.frames[3].file
    sheet = parse_sheet(series.sheet.read_text() + f"{name},,,,,,,,no,\n", "sheet.csv")
    (with_pair,) = pipeline.fit(measurement, read_sheet(series.sheet)).results
    (without,) = pipeline.fit(measurement, sheet).results
    assert len(without.channels["R"].transfer_points) == (
        len(with_pair.channels["R"].transfer_points) - 1
    )
