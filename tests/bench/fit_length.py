"""How the arithmetic of a fit grows with the number of frames; the shortest series is the baseline.

.venv/bin/python tests/bench/fit_length.py
"""

from __future__ import annotations

import resource
import time

import numpy as np

from profiler.calibration.fit.clip import PatchCodes
from profiler.calibration.fit.labels import LabelData, fit_series

LENGTHS = (40, 400, 2000)
METERED = np.array([900.0, 2000.0, 2000.0, 1300.0])
CHANNELS = ("R", "G1", "G2", "B")


def label(frames: int, seed: int = 1) -> LabelData:
    """One ISO label of a 14-bit body, eight stops by shutter times in thirds, with scatter."""
    rng = np.random.default_rng(seed)
    steps = np.sort(rng.integers(0, 25, frames))
    exact = -4.5 + steps / 3.0
    marked = exact + np.where(steps % 3 == 0, 0.03, -0.01)
    signal = METERED * 2.0 ** (exact + rng.normal(0.0, 0.05, frames))[:, None]
    level = np.minimum(512.0 + signal, 16383.0)
    noise = np.sqrt(np.minimum(signal, 15871.0) / 4.0 + 4.0)
    clipped = level >= 16383.0
    low = np.where(clipped, 16383.0, level - 2.3 * noise)
    high = np.where(clipped, 16383.0, np.minimum(level + 2.3 * noise, 16383.0))
    codes = tuple(
        PatchCodes(
            low_edge_dn=low[:, k],
            median_dn=level[:, k],
            high_edge_dn=high[:, k],
            top_share=np.where(clipped[:, k], 1.0, 1e-4),
        )
        for k in range(len(CHANNELS))
    )
    return LabelData(
        iso=400.0,
        channels=CHANNELS,
        placement_ev={"exact": exact, "as-marked": marked},
        mean_dn=level,
        mean_u_dn=noise / 50.0,
        codes=codes,
        black={"tag": (np.full(4, 512.0), np.full(4, 0.6))},
        files=tuple(f"{i}.dng" for i in range(frames)),
        time=steps,
        reading=np.zeros(frames, dtype=np.int64),
        reading_u_ev=0.06,
        order=np.linspace(0.0, 1.0, frames),
    )


def seconds(frames: int, runs: int = 3) -> float:
    """Best wall time of fitting one label of so many frames under both time rules."""
    data = label(frames)
    best = float("inf")
    for _ in range(runs):
        begin = time.perf_counter()
        fit_series([data])
        best = min(best, time.perf_counter() - begin)
    return best


def main() -> None:
    """Print seconds and ratios."""
    seconds(40, 1)  # imports and caches
    base = seconds(LENGTHS[0], 7)
    for frames in LENGTHS:
        took = base if frames == LENGTHS[0] else seconds(frames)
        print(
            f"{frames:5d} frames {took:.4f} s, {took / base:5.1f} x the time of {LENGTHS[0]} "
            f"for {frames / LENGTHS[0]:.0f} x the frames"
        )
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
