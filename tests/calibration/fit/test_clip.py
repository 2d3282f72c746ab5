"""Clip from piles of codes: spike, bell, none."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.calibration.fit import clip as clip_module
from profiler.calibration.fit.clip import PatchCodes, find_clips


def codes(frames: list[np.ndarray]) -> PatchCodes:
    """Codes of one channel from the pixels of each frame."""
    rounded = [np.rint(frame) for frame in frames]
    return PatchCodes(
        low_edge_dn=np.array([np.percentile(f, 1) for f in rounded]),
        median_dn=np.array([np.median(f) for f in rounded]),
        high_edge_dn=np.array([np.percentile(f, 99) for f in rounded]),
        top_share=np.array([np.mean(f == f.max()) for f in rounded]),
    )


def frames(placement: np.ndarray, clip_dn: float, pile_sd: float, seed: int) -> list[np.ndarray]:
    rng = np.random.default_rng(seed)
    out = []
    for x in placement:
        level = 512.0 + 2000.0 * 2.0**x
        pixels = rng.normal(level, np.sqrt(level), 20000)
        clipped = clip_dn + pile_sd * rng.normal(0.0, 1.0, 20000)
        out.append(np.minimum(pixels, clipped))
    return out


X = np.array([-4.0, -2.0, 0.0, 1.0, 2.0, 2.5, 3.8, 4.4])


def test_spike():
    seen = codes(frames(X, 15800.0, 0.0, 1))
    clip = find_clips(X, (seen,))[0]
    assert clip.seen
    assert not clip.bell
    assert clip.level_dn == 15800.0
    assert list(np.flatnonzero(clip.spoiled)) == [6, 7]


def test_one_clipped_frame_is_enough_when_it_is_a_spike():
    x = X[:7]
    assert find_clips(x, (codes(frames(x, 15800.0, 0.0, 2)),))[0].level_dn == 15800.0


def test_bell_counts_from_its_low_edge():
    clip = find_clips(X, (codes(frames(X, 15800.0, 20.0, 3)),))[0]
    assert clip.seen
    assert clip.bell
    # 1 % point of a normal pile: 2.326 standard deviations below its middle
    assert clip.level_dn == pytest.approx(15800.0 - 2.326 * 20.0, abs=5.0)
    assert clip.u_dn > 5.0


def test_unclipped_series_gives_a_lower_bound():
    x = X[:6]
    clip = find_clips(x, (codes(frames(x, 99999.0, 0.0, 4)),))[0]
    assert not clip.seen
    assert clip.level_dn == pytest.approx(512.0 + 2000.0 * 2.0**2.5, rel=0.01)


@pytest.mark.parametrize("seed", range(30))
def test_two_frames_of_one_exposure_are_no_plateau(seed):
    x = np.array([-2.0, 0.0, 1.0, 2.0, 2.0])
    rng = np.random.default_rng(seed)
    dim = codes(frames(x + rng.normal(0, 0.05, 5), 99999.0, 0.0, seed))
    assert not find_clips(x, (dim,))[0].seen


def test_means_alone_show_a_plateau():
    # published tables hold means only: exposure doubles twice, the level stays
    level = np.array([100.0, 1000.0, 8000.0, 16380.0, 16380.0, 16380.0])
    x = np.array([-3.0, 0.0, 3.0, 4.5, 5.5, 6.5])
    flat = PatchCodes(low_edge_dn=level, median_dn=level, high_edge_dn=level, top_share=np.zeros(6))
    clip = find_clips(x, (flat,))[0]
    assert clip.seen
    assert clip.level_dn == 16380.0


def test_codes_two_apart_at_the_top_of_eight_bits_are_one_clip():
    """0.4 % of 255 is a code; two are taken, for rounding moves each end by one."""
    x = np.array([-3.0, -2.0, -1.0, 1.0, 2.0])
    level = np.array([15.0, 30.0, 60.0, 253.0, 255.0])
    piles = PatchCodes(
        low_edge_dn=level - np.array([1.0, 2.0, 3.0, 0.0, 0.0]),
        median_dn=level,
        high_edge_dn=level + np.array([1.0, 2.0, 3.0, 0.0, 0.0]),
        top_share=np.array([0.01, 0.01, 0.01, 0.9, 0.9]),
    )
    assert list(find_clips(x, (piles,))[0].frames) == [False, False, False, True, True]
    level[3] = 252.0
    assert list(find_clips(x, (piles,))[0].frames) == [False, False, False, False, True]


@pytest.mark.parametrize(
    ("rise_ev", "level_rise", "short_ev", "told"),
    [
        (0.5, 1.0, 0.0, True),  # twice 0.25 EV without a rise of level speaks for itself
        (0.4, 1.0, 0.0, False),  # less may be one frame's error
        (0.4, 1.0, 0.5, True),  # unless two exposures fall short of the line
        (0.2, 1.0, 0.5, False),
        (1.0, 2.0, 0.0, False),  # the level follows the exposure
        (1.0, 1.4, 0.0, False),  # more than a quarter of the way
        (1.0, 1.2, 0.0, True),
    ],
)
def test_exposure_rises_and_the_level_stays(rise_ev, level_rise, short_ev, told):
    found = clip_module._is_plateau(
        np.array([0.0, 2.0, 2.0 + rise_ev]),
        np.array([500.0, 1000.0, 1000.0 * level_rise]),
        np.array([False, True, True]),
        np.array([0.0, short_ev, short_ev]),
        np.full(3, 0.1),
    )
    assert found is told
