"""Which channel clips first, and when a headroom is a bound: by hand, two and three channels."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from profiler.calibration.assemble.result import linear_headroom
from profiler.calibration.fit.bend import Bend, find_bend
from profiler.calibration.fit.clip import ClipFit
from profiler.calibration.fit.offset import find_headroom
from profiler.calibration.fit.response import LineData

BLACK = 500.0


def fit(channels: str, metered: list[float], top: list[float], seen: list[bool]):
    """Return a fit of a channel a letter: level above black at the metered grey and at the top."""
    c = len(metered)
    return SimpleNamespace(
        channels=tuple(channels.split()),
        clip=tuple(
            ClipFit(
                level_dn=BLACK + level,
                u_dn=1.0,
                seen=each,
                bell=False,
                frames=np.zeros(1, bool),
                spoiled=np.zeros(1, bool),
            )
            for level, each in zip(top, seen, strict=True)
        ),
        response=SimpleNamespace(
            black_dn=np.full(c, BLACK),
            metered_dn=np.array(metered),
            covariance=np.diag([0.01] * c + [1e-4] * c),
        ),
    )


CASES = [
    # all seen: the least headroom counts
    ("R G1 B", [1000, 2000, 1500], [16000, 16000, 16000], [1, 1, 1], "G", 3.0, False),
    # green seen; red and blue unseen above it say nothing against it
    ("R G1 B", [1000, 2000, 500], [15000, 16000, 12000], [0, 1, 0], "G", 3.0, False),
    # red seen at 4.0; green was seen up to 3.0 only, so that it may clip anywhere from there on
    ("R G1 B", [1000, 2000, 500], [16000, 16000, 12000], [1, 0, 0], "G", 3.0, True),
    # green's unseen top is lower than blue's clip in stops, though it is higher in DN
    ("G1 B", [4000, 1000], [15000, 8000], [0, 1], "G", math.log2(3.75), True),
    # none seen: the channel that got most light bounds them all
    ("R G1 B", [1000, 2000, 500], [8000, 15000, 4000], [0, 0, 0], "G", math.log2(7.5), True),
]


@pytest.mark.parametrize(("channels", "metered", "top", "seen", "name", "headroom", "bound"), CASES)
def test_first_channel(channels, metered, top, seen, name, headroom, bound):
    found = find_headroom(fit(channels, metered, top, [bool(each) for each in seen]))
    assert found.name == name
    assert found.lower_bound is bound
    assert float(found.headroom_ev[found.first]) == pytest.approx(headroom)
    # a bound is never above what any channel may have
    if bound:
        assert float(found.headroom_ev[found.first]) == pytest.approx(found.headroom_ev.min())


def test_the_linear_limit_lies_where_two_per_cent_are_lost():
    """Signal short by 0.4 (part - 0.65): 2 % at 0.70 of the span, not where the bend begins."""
    x = np.arange(-6.0, 3.2, 0.25)
    signal = 2000.0 * np.exp2(x)[:, None] * np.array([1.0, 0.5])
    part = signal / 15000.0
    level = BLACK + np.minimum(signal * (1.0 - 0.4 * np.maximum(part - 0.65, 0.0)), 15000.0)
    clear = level < BLACK + 14900.0
    n = x.size
    line = LineData(
        placement_ev=x,
        level_dn=level,
        level_u_dn=np.hypot(0.02, 0.0005 * (level - BLACK)),
        use=clear & (level > BLACK + 75.0),
        black_dn=np.full(2, BLACK),
        black_u_dn=np.full(2, 0.1),
        time=np.arange(n),
        reading=np.zeros(n, dtype=np.int64),
        reading_u_ev=0.06,
    )
    bend = find_bend(line, np.full(2, 15000.0), clear)
    assert bend.found
    assert bend.begin == pytest.approx(0.65, abs=0.025)
    assert bend.limit == pytest.approx(0.70, abs=0.015)


def test_the_linear_headroom_ends_at_the_limit():
    bend = Bend(found=True, begin=0.5, limit=0.8, checked=0.95)
    case = SimpleNamespace(fit=SimpleNamespace(bend=bend), headroom_ev=3.0)
    found = linear_headroom(case, 0.05, math.inf)
    assert found.value == pytest.approx(3.0 + math.log2(0.8))
    assert not found.lower_bound
    straight = Bend(found=False, begin=1.0, limit=1.0, checked=0.9)
    case = SimpleNamespace(fit=SimpleNamespace(bend=straight), headroom_ev=3.0)
    found = linear_headroom(case, 0.05, math.inf)
    assert found.value == pytest.approx(3.0 + math.log2(0.9))
    assert found.lower_bound
