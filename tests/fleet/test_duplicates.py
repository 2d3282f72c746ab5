"""Series that share half of their frames are one; fewer may be a mistake of the copying."""

from __future__ import annotations

import pytest

from profiler.fleet.duplicates import Shots, _groups

LONG = list(range(100, 112))


@pytest.mark.parametrize(
    ("first", "second", "alike"),
    [
        ([1, 2, 3, 4], [1, 2, 3, 4], True),
        ([1, 2, 3, 4], [1, 2, 5, 6], True),  # half
        ([1, 2, 3, 4, 5, 6, 7], [1, 2, 3, 8, 9, 10, 11], False),  # three of seven
        ([1, 2, 3, 4], [1, 2, *LONG], True),  # half of the shorter one
        ([1, 2, 3, 4], [1, *LONG], False),
        ([1, 2, 3, 4], [5, 6, 7, 8], False),
    ],
)
def test_half_of_the_frames_make_one_series(first, second, alike):
    shots = Shots.of({"first": first, "second": second, "other": [50, 51, 52]})
    assert list(_groups(shots)) == ([{"first", "second"}] if alike else [])


def test_a_chain_is_one_group():
    shots = Shots.of({"a": [1, 2, 3, 4], "b": [3, 4, 5, 6], "c": [5, 6, 7, 8], "d": [9]})
    assert list(_groups(shots)) == [{"a", "b", "c"}]
