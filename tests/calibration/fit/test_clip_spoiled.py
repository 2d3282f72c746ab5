"""Frames that clip has spoiled in part: no clip level of their own, no bend, no slip.

The patches are made here, pixel by pixel, apart from the simulator: side light, a pile-up as wide
as a noisy dark frame makes it, one channel ahead of the others, means alone.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from profiler.calibration.fit.clip import PatchCodes, find_clips
from profiler.calibration.fit.labels import LabelData, LabelFit, fit_series
from profiler.calibration.fit.offset import find_headroom

BLACK, CLIP, METERED = 512.0, 15800.0, 1900.0
HEADROOM = math.log2((CLIP - BLACK) / METERED)
PIXELS = 4000
SEEDS = range(30)


def label(
    over_ev: list[float],
    seed: int,
    *,
    side_ev: float = 0.0,
    pile_sd: float = 0.0,
    channel_ev: tuple[float, ...] = (0.0, -0.8, -1.2),
    scatter_ev: float = 0.03,
    means_only: bool = False,
) -> LabelData:
    """Return frames so many stops over the clip of the first channel; others lag by channel_ev.

    side_ev: light across the patch from edge to edge; pile_sd: noise in DN added after clip.
    """
    rng = np.random.default_rng(seed)
    x = HEADROOM + np.array(over_ev)
    got = x + scatter_ev * rng.standard_normal(x.size)
    across = np.exp2(side_ev * (np.arange(PIXELS) / (PIXELS - 1) - 0.5))
    across /= across.mean()
    level, cells = np.zeros((x.size, len(channel_ev))), []
    for k, lag in enumerate(channel_ev):
        lit = METERED * np.exp2(got + lag)[:, None] * across
        noisy = BLACK + lit + np.sqrt(lit / 0.8 + 9.0) * rng.standard_normal(lit.shape)
        shown = np.minimum(noisy, CLIP) + pile_sd * rng.standard_normal(lit.shape)
        codes = np.sort(np.rint(np.maximum(shown, 0.0)), axis=1)
        level[:, k] = codes.mean(axis=1)
        edges = [codes[:, int(p * PIXELS)] for p in (0.01, 0.5, 0.99)]
        share = (codes == codes[:, -1:]).mean(axis=1)
        if means_only:
            edges, share = [level[:, k]] * 3, np.zeros(x.size)
        low, middle, high = edges
        cells.append(
            PatchCodes(low_edge_dn=low, median_dn=middle, high_edge_dn=high, top_share=share)
        )
    c = len(channel_ev)
    return LabelData(
        iso=400.0,
        channels=("G1", "R", "B")[:c],
        placement_ev={"exact": x, "as-marked": x},
        mean_dn=level,
        mean_u_dn=np.full(level.shape, 1.0),
        codes=tuple(cells),
        black={"dark frames": (np.full(c, BLACK), np.full(c, 0.1))},
        files=tuple(f"F{i}" for i in range(x.size)),
        time=np.arange(x.size),
        reading=np.zeros(x.size, dtype=np.int64),
        reading_u_ev=0.06,
        order=np.linspace(0.0, 1.0, x.size),
    )


def fitted(data: LabelData) -> LabelFit:
    (found,) = fit_series([data]).labels
    return found


def check(found: LabelFit, *, channel: int = 0, within_ev: float = 0.12) -> None:
    """No slip, no bend; a headroom that is right, or a bound that isn't above the truth."""
    headroom = find_headroom(found)
    assert found.response.slips == ()
    assert not found.bend.found
    assert float(headroom.headroom_ev[channel]) <= HEADROOM + within_ev
    if found.clip[channel].seen:
        assert float(headroom.headroom_ev[channel]) == pytest.approx(HEADROOM, abs=within_ev)
        assert found.clip[channel].level_dn == pytest.approx(CLIP, rel=0.04)
    else:
        assert headroom.lower_bound
        assert found.clip[channel].level_dn <= CLIP + 3.0


LADDER = [-6.0, -5.0, -4.0, -3.0, -2.2, -1.5]


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("side_ev", [0.3, 0.6])
def test_half_clipped_patch_under_side_light(seed, side_ev):
    check(fitted(label([*LADDER, -0.02], seed, side_ev=side_ev)))


@pytest.mark.parametrize("seed", SEEDS)
def test_half_clipped_patch_with_a_wide_pile(seed):
    check(fitted(label([*LADDER, 0.05], seed, side_ev=0.6, pile_sd=12.0)))


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize(("over_ev", "pile_sd"), [(-0.12, 0.0), (0.05, 12.0)])
def test_a_patch_clipped_in_part_tells_nothing_about_the_line(seed, over_ev, pile_sd):
    """A quarter of it on the one code of clip, or more than half on many."""
    data = label([*LADDER, over_ev], seed, side_ev=0.5, pile_sd=pile_sd, channel_ev=(0.0,))
    clip = find_clips(data.placement_ev["exact"], (data.codes[0],))[0]
    assert not clip.seen
    assert list(clip.spoiled) == [False] * 6 + [True]


@pytest.mark.parametrize("seed", SEEDS)
def test_half_clipped_beside_clipped_frames(seed):
    found = fitted(label([*LADDER, 0.05, 1.2, 1.6], seed, side_ev=0.5))
    check(found)
    assert found.clip[0].seen
    assert found.clip[0].level_dn == CLIP


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("pile_sd", [6.0, 12.0, 30.0, 80.0, 200.0])
def test_two_saturated_frames_a_third_apart(seed, pile_sd):
    """The pile-up is wider than 0.2 % of its level, and exposure rose by little over it."""
    found = fitted(label([*LADDER, 1.2, 1.53], seed, pile_sd=pile_sd))
    check(found)
    assert found.clip[0].seen
    assert found.clip[0].bell


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("pile_sd", [12.0, 80.0, 160.0])
def test_one_saturated_frame(seed, pile_sd):
    check(fitted(label([*LADDER, 1.2], seed, pile_sd=pile_sd)))


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("pile_sd", [0.0, 12.0, 80.0])
def test_one_clipped_frame_in_one_channel(seed, pile_sd):
    """The green of the last frame is over, red and blue of it lie well below clip."""
    found = fitted(label([*LADDER, -0.6, 0.5], seed, pile_sd=pile_sd))
    check(found)
    # what is sound of the frame still serves the line
    assert math.isfinite(found.response.deviation_ev[-1])
    assert abs(found.response.deviation_ev[-1]) < 0.15


@pytest.mark.parametrize("seed", SEEDS)
def test_a_saturated_channel_is_told_from_the_frame_s_own_error(seed):
    """Shutters as uneven as the clip is over: the channel that lost least tells the error."""
    data = label([*LADDER, 0.5], seed, pile_sd=160.0, channel_ev=(0.0, -0.6, -0.6), scatter_ev=0.12)
    clip = find_clips(data.placement_ev["exact"], data.codes, np.full(3, BLACK))
    assert [bool(end.spoiled[-1]) for end in clip] == [True, False, False]


@pytest.mark.parametrize("seed", SEEDS)
def test_an_unsteady_last_frame_is_no_bend(seed):
    """The channels of one frame fall short together by its own error, which counts once."""
    data = label([*LADDER, -0.8], seed, channel_ev=(0.0, -0.1, -0.2), scatter_ev=0.02)
    data.placement_ev["exact"][-1] += 0.16
    assert not fitted(data).bend.found


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("over_ev", [-0.1, 0.1, 0.3])
def test_partly_clipped_mean_in_a_table(seed, over_ev):
    """All that is printed is a mean, and it lies between the line and clip."""
    for tail in ([over_ev], [over_ev, 1.5, 2.5]):
        data = label([*LADDER, *tail], seed, side_ev=0.8, means_only=True, channel_ev=(0.0,))
        found = fitted(data)
        check(found)
        assert found.clip[0].seen is (len(tail) > 1)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_frame_with_a_wrong_time_is_still_a_slip(seed):
    """All of its channels fall short alike, and it is as wide as its level asks for."""
    data = label([*LADDER, -0.8], seed)
    wrong = data.placement_ev["exact"].copy()
    wrong[-1] += 1.0
    data.placement_ev["exact"][:] = wrong
    found = fitted(data)
    assert found.response.slips == (6,)
    assert not found.clip[0].seen


@pytest.mark.parametrize("seed", SEEDS)
def test_unclipped_frames_are_spoiled_by_nothing(seed):
    for side_ev in (0.0, 0.6):
        data = label([*LADDER, -1.0, -0.7], seed, side_ev=side_ev)
        for clip in find_clips(data.placement_ev["exact"], data.codes):
            assert not clip.seen
            assert not clip.spoiled.any()


def test_by_hand_a_pile_narrower_than_its_light():
    """Darker frames spread by 100 and 140 DN; the top one is brighter, yet spreads by 40."""
    x = np.array([0.0, 1.0, 2.0, 4.0])
    middle = np.array([1000.0, 2000.0, 4000.0, 9000.0])
    half = np.array([35.0, 50.0, 70.0, 20.0])
    codes = PatchCodes(
        low_edge_dn=middle - half, median_dn=middle, high_edge_dn=middle + half,
        top_share=np.full(4, 0.001),
    )  # fmt: skip
    clip = find_clips(x, (codes,))[0]
    assert clip.seen
    assert clip.bell
    assert clip.level_dn == 8980.0
    assert list(clip.spoiled) == [False, False, False, True]


def test_by_hand_a_bound_leaves_out_what_falls_short():
    """Means alone: 16000 is expected of the last frame, 9000 is there."""
    x = np.array([0.0, 1.0, 2.0, 3.0, 4.0])
    level = np.array([1000.0, 2000.0, 4000.0, 8000.0, 9000.0])
    flat = PatchCodes(low_edge_dn=level, median_dn=level, high_edge_dn=level, top_share=np.zeros(5))
    clip = find_clips(x, (flat,))[0]
    assert not clip.seen
    assert clip.level_dn == 9000.0  # clip lies no lower than a mean that some of it has reached
    assert list(clip.spoiled) == [False, False, False, False, True]
