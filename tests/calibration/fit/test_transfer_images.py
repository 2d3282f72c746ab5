"""Photon transfer on pixels with hot ones, flicker between the pair, and a 10 bit coding."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from profiler.calibration import pipeline
from profiler.calibration.assemble.result import noise_profile
from profiler.calibration.fit.noise import Transfer, photon_transfer
from profiler.files.sheet import parse_sheet
from profiler.frames.statistics import measure_patch, pair_variance
from profiler.records import FrameMeasure, FrameTags, Measurement

MONO = (("Y",),)
GAIN_E, READ_E, BLACK, TOP = 11.0, 15.0, 64.0, 1023  # e-/DN, e-, DN, 10 bit


def frame(rng, electrons: float, hot: np.ndarray, flicker: float) -> np.ndarray:
    light = electrons * (1.0 + flicker * rng.normal())
    e = rng.poisson(light, hot.shape) + rng.normal(0.0, READ_E, hot.shape) + hot
    return np.clip(np.rint(BLACK + e / GAIN_E), 0, TOP).astype(np.uint16)


@pytest.mark.parametrize("seed", range(5))
def test_gain_within_one_percent(seed):
    rng = np.random.default_rng([10, seed])
    shape = (400, 600)
    hot = np.where(rng.uniform(size=shape) < 0.001, 3000.0, 0.0)  # 0.1 % hot pixels
    signal, variance, count = [], [], []
    for electrons in (0.0, 200.0, 500.0, 1000.0, 2000.0, 3500.0, 5000.0, 6500.0):
        a, b = (frame(rng, electrons, hot, 0.003) for _ in range(2))  # 0.3 % pair flicker
        n, v = pair_variance(a, b, MONO)["Y"]
        mean = 0.5 * sum(measure_patch(f, MONO)["Y"].mean_dn for f in (a, b))
        signal.append(mean - BLACK)
        variance.append(v)
        count.append(float(n))
    found = photon_transfer(
        np.array(signal), np.array(variance), np.array(count), TOP - BLACK, from_pairs=True
    )
    assert found.gain_e_per_dn == pytest.approx(GAIN_E, rel=0.01)
    assert found.read_noise_e == pytest.approx(READ_E, rel=0.03)


# DNG 1.7.1 NoiseProfile: K 0.75 DN/e-, sigma 4.5 DN, black 512, white 16383 (computed)
def test_noise_profile_pair():
    transfer = Transfer(
        slope_dn_per_e=0.75,
        slope_u=0.001,
        dark_variance_dn2=4.5**2 + 1.0 / 12.0,
        dark_variance_u=0.01,
        covariance=0.0,
        from_pairs=True,
        points=9,
        top_dn=9000.0,
    )
    pair = noise_profile(transfer, 16383.0 - 512.0)
    assert pair.scale == pytest.approx(4.72560e-05, rel=1e-5)
    assert pair.offset == pytest.approx(8.03927e-08, rel=1e-5)
    unknown = noise_profile(replace(transfer, dark_variance_u=40.0), 16383.0 - 512.0)
    assert unknown is None


def test_noise_profile_of_a_series_gives_back_the_noise_of_its_patches():
    """Pairs drawn here, with the pattern of no simulator; the pair is read as DNG says it."""
    rng = np.random.default_rng(12)
    frames, rows = [], ["file,reading,mode,iso,time,aperture"]
    hot = np.zeros((200, 300))
    for k, electrons in enumerate((60.0, 240.0, 960.0, 1920.0, 3840.0, 7680.0, 15360.0, 30720.0)):
        name = [f"{k}a", f"{k}b"]
        codes = [frame(rng, electrons, hot, 0.002) for _ in name]
        n, variance = pair_variance(*codes, MONO)["Y"]
        for one, other, values in zip(name, name[::-1], codes, strict=True):
            cell = replace(measure_patch(values, MONO)["Y"], temporal_variance_dn2=variance)
            frames.append(
                FrameMeasure(
                    file=one,
                    sha256=one,
                    tags=FrameTags(),
                    channels={"Y": replace(cell, pair_n=n)},
                    black_tag_dn={"Y": BLACK},
                    pair=other,
                )
            )
            rows.append(f"{one},EV 10,spot,100,{electrons / 60000.0},8")
    sheet = parse_sheet("\n".join(rows), "sheet.csv")
    (result,) = pipeline.fit(Measurement(frames=tuple(frames), patch=""), sheet).results
    pair = result.channels["Y"].noise_profile
    span = TOP - BLACK
    for x in (0.01, 0.18, 0.5):
        variance_dn2 = (READ_E / GAIN_E) ** 2 + x * span / GAIN_E
        assert pair.scale * x + pair.offset == pytest.approx(variance_dn2 / span**2, rel=0.05)
