"""Codes that a digital push leaves unused."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from profiler import standards


def code_gaps(counts: NDArray[np.int64]) -> tuple[int, float]:
    """Smallest k > 1 for which only every k-th code is in use, else 1; share of codes unused.

    counts: how often each code occurs. A push by a whole factor k leaves k - 1 of k codes unused,
    one by a broken factor f above 2 uses a code in f: f, rounded, is returned. Between 1 and 2
    one code in f/(f - 1) is missing: that spacing, rounded, is returned (5 for 1.26). Only codes
    between the 5 and 95 % points count, at least 12 of them, and of the gaps those with 8 samples
    on either side, not left by chance.
    """
    reached = np.cumsum(counts)
    low, high = np.searchsorted(reached, reached[-1] * np.array([0.05, 0.95]))
    inner = counts[low : high + 1]
    used = np.flatnonzero(inner)
    if used.size < standards.GAP_MIN_CODES:
        return 1, 0.0
    steps = np.diff(used)
    often = np.minimum(inner[used[:-1]], inner[used[1:]]) >= standards.GAP_MIN_COUNT
    steps = steps[often & (steps <= standards.GAP_LONGEST_DN)]
    if steps.size < standards.GAP_MIN_CODES:
        return 1, 0.0
    missing = float((steps - 1).sum()) / float(steps.sum())
    if np.count_nonzero(steps > 1) < standards.GAP_MIN_RUNS or missing < standards.GAP_MIN_SHARE:
        return 1, 0.0
    period = round(1.0 / missing) if missing < 0.5 else round(1.0 / (1.0 - missing))
    return period, missing
