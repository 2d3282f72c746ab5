"""Samples of a patch taken apart against the pixels they came from."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.frames.cfa import channels, parse_cfa
from profiler.frames.samples import laid_out_alike, neighbours, split_channels

RGGB = parse_cfa("RGGB", "test")
MONO = parse_cfa("MONO", "test")
XTRANS = parse_cfa("GBGGRG/RGRBGB/GBGGRG/GRGGBG/BGBRGR/GRGGBG", "test")


def _values(shape: tuple[int, int] = (36, 48)) -> np.ndarray:
    return np.random.default_rng(1).integers(0, 4096, shape).astype(np.uint16)


@pytest.mark.parametrize("cfa", [RGGB, XTRANS, MONO], ids=["bayer", "6x6", "mono"])
def test_channels_share_out_all_pixels(cfa) -> None:
    values = _values()
    found = split_channels(values, cfa)
    assert set(found) == set(channels(cfa))
    pixels = np.concatenate([samples.flat_dn() for samples in found.values()])
    assert np.array_equal(np.sort(pixels), np.sort(values.ravel()))
    for samples in found.values():
        codes, times = np.unique(samples.flat_dn(), return_counts=True)
        assert np.array_equal(samples.codes, codes)
        assert np.array_equal(samples.times, times)


@pytest.mark.parametrize("cfa", [RGGB, MONO], ids=["bayer", "mono"])
def test_nothing_of_the_frame_is_held(cfa) -> None:
    values = _values()
    for samples in split_channels(values, cfa).values():
        assert not any(np.shares_memory(plane, values) for plane in samples.planes.values())


def test_neighbours_in_a_row_of_unlike_distances() -> None:
    values = np.tile(np.arange(48, dtype=np.uint16), (36, 1))
    steps = [
        np.unique(right.astype(int) - left)
        for left, right in neighbours(split_channels(values, XTRANS)["R"].planes)
    ]
    assert sorted(int(step[0]) for step in steps) == [2, 2, 4, 4, 6, 6, 6, 6]
    assert all(step.size == 1 for step in steps)


def test_patches_of_other_size_or_array_are_not_alike() -> None:
    one = split_channels(_values(), RGGB)
    assert laid_out_alike(one, split_channels(_values() + 1, RGGB))
    assert not laid_out_alike(one, split_channels(_values((36, 46)), RGGB))
    assert not laid_out_alike(one, split_channels(_values(), parse_cfa("BGGR", "test")))
