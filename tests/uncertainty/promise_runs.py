"""Does a plan keep what it promises, and does a sharp series reach ± 0.05 EV and hold it?

.venv/bin/python tests/uncertainty/promise_runs.py 200 400 > tests/uncertainty/PROMISES.md
"""

from __future__ import annotations

import os
import sys
import tempfile
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parent))

import numpy as np
from shot_plans import Sharp, promise_and_result, sharp_series

from profiler.records import Meter

METERS = (
    (Meter(repeatability_ev=0.1, resolution_ev=0.1), 4),
    (Meter(repeatability_ev=0.1, resolution_ev=0.1), 12),
    (Meter(repeatability_ev=0.1, resolution_ev=0.01), 4),
    (Meter(repeatability_ev=0.05, resolution_ev=0.01), 4),
)


def in_files(meter: Meter, count: int, seed: int) -> Sharp:
    """One sharp series through DNG files."""
    with tempfile.TemporaryDirectory() as where:
        return sharp_series(seed, meter, count, Path(where))


def in_memory(meter: Meter, count: int, seed: int) -> Sharp:
    """One sharp series in memory."""
    return sharp_series(seed, meter, count)


def main(plans: int, seeds: int) -> None:
    """Print the record."""
    print("# What plans promise, and what sharp series reach\n")
    print(f"Made by `.venv/bin/python tests/uncertainty/promise_runs.py {plans} {seeds}`.\n")
    print("Found over promised half of the 95 % interval, for series shot by plans drawn at random")
    print("(modes, labels, copies, length, readings, shutter, lens-cap frames, meters):\n")
    print("| interval | plans | median | 5 % | 95 % | within 20 % |")
    print("|---|---|---|---|---|---|")
    with ProcessPoolExecutor(2) as pool:
        rows = np.array(list(pool.map(promise_and_result, range(plans), chunksize=5)))
        for name, found in (
            ("at any aperture", rows[:, 1] / rows[:, 0]),
            ("at the planned one", rows[:, 3] / rows[:, 2]),
        ):
            low, high = np.quantile(found, [0.05, 0.95])
            near = np.mean(np.abs(found - 1.0) <= 0.2)
            print(
                f"| {name} | {plans} | {np.median(found):.2f} | {low:.2f} | {high:.2f} | "
                f"{100 * near:.0f} % |",
                flush=True,
            )
        print("\nOne aperture, electronic shutter, 2 x 16 frames; the interval at that aperture:\n")
        head = "meter repeats to | its step | readings | half interval | held through DNG files"
        print(f"| {head} | in memory | held | rms error |\n|---|---|---|---|---|---|---|---|")
        for meter, count in METERS:
            files = list(pool.map(partial(in_files, meter, count), range(1, 21)))
            many = list(pool.map(partial(in_memory, meter, count), range(seeds), chunksize=10))
            errors = np.array([one.error_ev for one in many])
            print(
                f"| ± {meter.repeatability_ev:g} EV | {meter.resolution_ev:g} EV | {count} | "
                f"± {np.median([one.half_ev for one in many]):.3f} EV | "
                f"{sum(one.held for one in files)} of 20 | {seeds} | "
                f"{100 * np.mean([one.held for one in many]):.1f} % | "
                f"{np.sqrt(np.mean(errors**2)):.3f} EV |",
                flush=True,
            )


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:3]) if len(sys.argv) > 2 else (200, 400))
