"""Which code is the top, and how far codes lie apart."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.frames.gaps import code_step, codes_in_use, top_code
from profiler.frames.statistics import measure_patch

RGGB = (("R", "G1"), ("G2", "B"))


def in_use(values) -> tuple[np.ndarray, np.ndarray]:
    return codes_in_use(np.asarray(values, dtype=np.int64).ravel())


@pytest.mark.parametrize("dtype", [np.uint16, np.int32, np.int64])
def test_codes_in_use_are_counted_as_numpy_counts_them(dtype):
    values = np.random.default_rng(2).integers(60000, 65536, 5000).astype(dtype)
    if dtype != np.uint16:
        values -= 62000  # some below zero
    expected = np.unique(values, return_counts=True)
    for found, wanted in zip(codes_in_use(values), expected, strict=True):
        assert np.array_equal(found, wanted)


@pytest.mark.parametrize(
    ("values", "top"),
    [
        ([500] * 2000, 500),
        ([500] * 2000 + [900], 500),
        ([500] * 2000 + [900, 901], 500),
        ([500] * 2000 + [900] * 3, 900),
        ([500] * 255 + [900], 500),
        ([500] * 254 + [900] * 2, 900),
        ([500], 500),
        ([500, 900], 500),
    ],
)
def test_top_is_a_code_that_holds_pixels(values, top):
    assert top_code(*in_use(values)) == top


def drawn(level: float, sd: float, n: int = 20000, seed: int = 3) -> np.ndarray:
    return np.rint(np.random.default_rng(seed).normal(level, sd, n))


def step_of(values) -> int:
    found = in_use(values)
    return code_step(*found, top_code(*found))


@pytest.mark.parametrize("step", [1, 2, 4, 8, 16])
@pytest.mark.parametrize("sd", [20.0, 60.0, 900.0])
@pytest.mark.parametrize("rest", [0, 1])
def test_step_of_dropped_bits(step, sd, rest):
    assert step_of(drawn(5000.0, sd) // step * step + min(rest, step - 1)) == step


@pytest.mark.parametrize("n", [64, 256, 1000])
def test_step_of_few_pixels_spread_wide(n):
    """The codes in use lie far apart, but never at the same rest by chance."""
    assert step_of(drawn(8000.0, 800.0, n) // 4 * 4) == 4
    assert step_of(drawn(8000.0, 800.0, n)) == 1


@pytest.mark.parametrize("values", [[64] * 500, [64] * 400 + [72] * 300, [100] * 500 + [164, 228]])
def test_too_few_codes_tell_no_step(values):
    assert step_of(values) == 0


def test_neighbouring_codes_tell_single_steps():
    assert step_of([64] * 400 + [65] * 300 + [66] * 100) == 1


def test_mended_pixels_and_a_clip_off_the_step_do_not_hide_it():
    coarse = drawn(15400.0, 300.0) // 4 * 4
    coarse[::150] += 1  # mended: a mean of neighbours
    assert step_of(np.minimum(coarse, 15501)) == 4


def test_hot_pixel_leaves_a_clipped_patch_clipped():
    values = np.full((64, 64), 15520, dtype=np.uint16)
    values[10, 10] = 16383
    found = measure_patch(values, RGGB)
    assert {c.top_dn for c in found.values()} == {15520.0}
    assert all(c.top_share > 0.99 for c in found.values())
