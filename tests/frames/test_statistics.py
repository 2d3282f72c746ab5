"""Patch statistics against plain NumPy on drawn data and against known truth."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from profiler.frames.cfa import Cfa, channels, parse_cfa, period
from profiler.frames.gaps import code_gaps, code_step
from profiler.frames.samples import split_channels
from profiler.frames.statistics import measure_patch, pair_variance

RGGB = parse_cfa("RGGB", "test")
XTRANS = parse_cfa("GBGGRG/RGRBGB/GBGGRG/GRGGBG/BGBRGR/GRGGBG", "test")
MONO: Cfa = (("Y",),)
ARRAYS = pytest.mark.parametrize("cfa", [RGGB, XTRANS, MONO], ids=["bayer", "6x6", "mono"])
SHAPE = (240, 300)


def _names(cfa: Cfa, shape: tuple[int, int] = SHAPE) -> np.ndarray:
    high, wide = period(cfa)
    return np.tile(np.array(cfa), (shape[0] // high + 1, shape[1] // wide + 1))[
        : shape[0], : shape[1]
    ]


def _codes(values: np.ndarray, top: int = 16383) -> np.ndarray:
    return np.clip(np.rint(values), 0, top).astype(np.uint16)


def _noise(sd_dn: float, seed: int, shape: tuple[int, int] = SHAPE) -> np.ndarray:
    return np.random.default_rng(seed).normal(0.0, sd_dn, shape)


@ARRAYS
def test_statistics_are_those_of_numpy(cfa: Cfa) -> None:
    values = np.random.default_rng(1).integers(40, 4096, SHAPE).astype(np.uint16)
    names = _names(cfa)
    measured = measure_patch(values, cfa)
    assert set(measured) == set(channels(cfa))
    for channel, found in measured.items():
        own = values[names == channel].astype(np.float64)
        assert found.n == own.size
        assert found.mean_dn == pytest.approx(own.mean(), rel=1e-13)
        assert found.variance_dn2 == pytest.approx(own.var(ddof=1), rel=1e-12)
        # a thousandth of the pixels lies above
        assert found.top_dn == np.sort(own)[-1 - own.size // 1000]
        assert found.top_share == pytest.approx((own == found.top_dn).mean(), rel=1e-12)
        for share, value in (
            (1, found.low_edge_dn),
            (50, found.median_dn),
            (99, found.high_edge_dn),
        ):
            assert value == np.percentile(own, share, method="inverted_cdf")
        differences = [
            int(b) - int(a)
            for row, row_names in zip(values, names, strict=True)
            for a, b in _pairs(row[row_names == channel])
        ]
        assert found.neighbour_variance_dn2 == pytest.approx(
            np.mean(np.square(differences)) / 2.0, rel=0.01
        )


def _pairs(row: np.ndarray) -> itertools.pairwise[tuple[int, int]]:
    return itertools.pairwise(row)


def test_neighbour_variance_to_the_last_digit() -> None:
    values = np.random.default_rng(2).integers(0, 65536, SHAPE).astype(np.uint16)
    green = values[0::2, 1::2].astype(np.float64)
    expected = np.mean(np.diff(green, axis=1) ** 2) / 2.0
    assert measure_patch(values, RGGB)["G1"].neighbour_variance_dn2 == pytest.approx(
        expected, rel=1e-9
    )


def test_neighbour_variance_falls_with_smoothing() -> None:
    clean = _noise(20.0, 3)
    smooth = (clean + np.roll(clean, 2, axis=1)) / 2.0
    found = measure_patch(_codes(1000.0 + smooth), RGGB)["G1"]
    assert found.neighbour_variance_dn2 / found.variance_dn2 == pytest.approx(0.5, abs=0.03)


@ARRAYS
@pytest.mark.parametrize(("across", "down"), [(0.1, 0.0), (0.0, -0.08), (-0.06, 0.05)])
def test_gradient_of_a_plane(cfa: Cfa, across: float, down: float) -> None:
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]]
    plane = 1.0 + across * (x / SHAPE[1] - 0.5) + down * (y / SHAPE[0] - 0.5)
    for found in measure_patch(_codes(5000.0 * plane + _noise(30.0, 4)), cfa).values():
        assert found.gradient == pytest.approx(abs(across) + abs(down), abs=0.002)
        assert found.slope_across_dn == pytest.approx(5000.0 * across, abs=8.0)
        assert found.slope_down_dn == pytest.approx(5000.0 * down, abs=8.0)


@ARRAYS
def test_even_patch_has_neither_gradient_nor_banding(cfa: Cfa) -> None:
    for found in measure_patch(_codes(5000.0 + _noise(50.0, 6)), cfa).values():
        assert found.gradient < 0.001
        assert max(abs(found.slope_across_dn), abs(found.slope_down_dn)) < 5.0
        noise_of_a_row = 50.0 / np.sqrt(found.n / SHAPE[0]) / 5000.0
        assert found.row_banding < 0.5 * noise_of_a_row


@ARRAYS
def test_row_banding_of_a_flickering_light(cfa: Cfa) -> None:
    wave = 1.0 + 0.02 * np.sin(2.0 * np.pi * np.arange(SHAPE[0]) / 40.0)[:, None]
    for found in measure_patch(_codes(3000.0 * wave + _noise(30.0, 7)), cfa).values():
        assert found.row_banding == pytest.approx(0.02 / np.sqrt(2.0), rel=0.05)


def test_slope_is_no_banding() -> None:
    ramp = 1.0 + 0.05 * np.linspace(-0.5, 0.5, SHAPE[0])[:, None]
    assert measure_patch(_codes(3000.0 * ramp + _noise(30.0, 8)), RGGB)["G1"].row_banding < 5e-4


@pytest.mark.parametrize("level_dn", [0, 300, 16383, 65535])
def test_patch_of_one_code(level_dn: int) -> None:
    found = measure_patch(np.full(SHAPE, level_dn, dtype=np.uint16), RGGB)["B"]
    assert found.mean_dn == found.top_dn == found.low_edge_dn == found.high_edge_dn == level_dn
    assert found.top_share == 1.0
    assert found.variance_dn2 == found.neighbour_variance_dn2 == 0.0
    assert (found.gradient, found.row_banding, found.gap_period) == (0.0, 0.0, 1)


@pytest.mark.parametrize("factor", [1, 2, 3, 4, 5, 8])
def test_push_by_a_whole_factor(factor: int) -> None:
    pushed = (2000.0 + _noise(60.0, 10, (600, 800))).astype(np.uint16) * factor
    assert measure_patch(pushed, RGGB)["G1"].gap_period == factor


@pytest.mark.parametrize(
    ("factor", "spacing"),
    [(1.25, 5), (2 ** (1 / 3), 5), (1.5, 3), (2 ** (2 / 3), 3), (1.1, 11), (3.3, 3)],
)
def test_push_by_a_fraction_gives_the_spacing_of_its_gaps(factor: float, spacing: int) -> None:
    pushed = np.floor((2000.0 + _noise(60.0, 11, (600, 800))).astype(int) * factor)
    assert measure_patch(pushed.astype(np.uint16), RGGB)["G1"].gap_period == pytest.approx(
        spacing, abs=1 if factor < 1.2 else 0
    )


def in_use(counts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    codes = np.flatnonzero(counts)
    return codes, counts[codes]


@pytest.mark.parametrize(
    "counts",
    [
        np.bincount([5] * 900),
        np.bincount(np.repeat(np.arange(0, 22, 2), 100)),
        np.bincount(
            np.r_[np.repeat(np.arange(100, 140), 500), np.repeat(np.arange(900, 940), 500)]
        ),
        np.bincount(np.random.default_rng(1).integers(0, 4000, 2000)),
    ],
    ids=["one code", "too few codes", "two tones", "too few samples"],
)
def test_no_push_is_made_out_of(counts: np.ndarray) -> None:
    assert code_gaps(*in_use(counts))[0] == 1


def test_two_missing_codes_of_a_narrow_spread_are_no_push() -> None:
    counts = np.full(40, 500)
    counts[[12, 27]] = 0
    assert code_gaps(*in_use(counts))[0] == 1


@pytest.mark.parametrize("missing", [[100], [150, 260, 330, 410, 520, 600, 720, 800]])
def test_missing_codes_of_the_converter_are_no_push(missing: list[int]) -> None:
    counts = np.full(1000, 500)
    counts[missing] = 0
    assert code_gaps(*in_use(counts))[0] == 1


@ARRAYS
@pytest.mark.parametrize("sd_dn", [2.0, 15.0, 80.0])
def test_pair_gives_the_temporal_variance(cfa: Cfa, sd_dn: float) -> None:
    """Fixed pattern, three times the noise, drops out; 1/12 DN^2 comes in by rounding."""
    scene = 3000.0 + _noise(3.0 * sd_dn, 20)
    a, b = _codes(scene + _noise(sd_dn, 21)), _codes(scene + _noise(sd_dn, 22))
    for n, variance in pair_variance(a, b, cfa).values():
        assert n > 5000
        assert variance == pytest.approx(sd_dn**2 + 1.0 / 12.0, rel=5.0 / np.sqrt(n))


def test_pair_follows_the_formula_of_the_standard() -> None:
    """EMVA 1288 Release 4.0 Linear, eq. 18, in plain NumPy."""
    a, b = _codes(800.0 + _noise(9.0, 23)), _codes(805.0 + _noise(9.0, 24))
    red_a, red_b = a[::2, ::2].astype(float), b[::2, ::2].astype(float)
    expected = ((red_a - red_b) ** 2).mean() / 2 - (red_a.mean() - red_b.mean()) ** 2 / 2
    assert pair_variance(a, b, RGGB)["R"] == (red_a.size, pytest.approx(expected, rel=1e-12))


@pytest.mark.parametrize("flicker", [0.003, 0.03])
def test_change_of_light_within_the_pair_is_taken_out(flicker: float) -> None:
    a = _codes(9000.0 + _noise(40.0, 25))
    b = _codes(9000.0 * (1.0 + flicker) + _noise(40.0, 26))
    for _, variance in pair_variance(a, b, RGGB).values():
        assert variance == pytest.approx(1600.0, rel=0.04)


def test_hot_dead_and_blinking_pixels_do_not_count() -> None:
    rng = np.random.default_rng(27)
    scene = np.full(SHAPE, 600.0)
    hot, dead = rng.random(SHAPE) < 5e-4, rng.random(SHAPE) < 5e-4
    scene[hot] = 9000.0
    scene[dead] = 0.0
    a, b = scene + _noise(6.0, 28), scene + _noise(6.0, 29)
    a[hot] += rng.normal(0.0, 900.0, int(hot.sum()))
    b[rng.random(SHAPE) < 5e-4] = 4000.0
    for n, variance in pair_variance(_codes(a), _codes(b), RGGB).values():
        assert n > 0.99 * SHAPE[0] * SHAPE[1] / 4
        assert variance == pytest.approx(36.0, rel=0.06)


def test_blinking_pixels_within_a_rough_pattern_do_not_count() -> None:
    """None of them is beyond the spread of its frame, only their change is."""
    scene = 3000.0 + _noise(300.0, 31)
    a, b = scene + _noise(6.0, 32), scene + _noise(6.0, 33)
    b[np.random.default_rng(34).random(SHAPE) < 2e-3] += 200.0
    for _, variance in pair_variance(_codes(a), _codes(b), RGGB).values():
        assert variance == pytest.approx(36.0, rel=0.06)


def test_pair_of_one_code() -> None:
    values = np.full(SHAPE, 4095, dtype=np.uint16)
    assert pair_variance(values, values, RGGB)["G1"] == (SHAPE[0] * SHAPE[1] // 4, 0.0)


def test_unlike_shapes_are_the_callers_mistake() -> None:
    a = np.zeros(SHAPE, dtype=np.uint16)
    with pytest.raises(ValueError, match="differ in shape"):
        pair_variance(a, a[:-2], RGGB)
    with pytest.raises(ValueError, match="doesn't hold a period of 6 x 6"):
        measure_patch(a[:3], XTRANS)


def test_counts_hold_every_sample_once() -> None:
    values = np.random.default_rng(30).integers(0, 100, (61, 77)).astype(np.uint16)
    total = sum(found.times.sum() for found in split_channels(values, XTRANS).values())
    assert total == values.size


def test_a_few_pixels_below_clip_show_no_step() -> None:
    """All of them even by chance, as one in a thousand patches has them."""
    counts = np.zeros(4096, dtype=np.int64)
    counts[[3900, 3908, 3914, 3950, 3952, 3990, 4010, 4020, 4030]] = 1
    counts[4095] = 1500
    assert code_step(*in_use(counts), 4095) == 0
    counts[3000:3400:2] = 3
    assert code_step(*in_use(counts), 4095) == 2
