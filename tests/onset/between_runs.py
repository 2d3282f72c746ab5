"""Do answers between ISO labels hold the truth? Through real DNG files, for kinds of bodies.

.venv/bin/python tests/onset/between_runs.py 20 > tests/onset/BETWEEN.md
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
import numpy as np
from bodies_between import KINDS, REFUSED, Kind, answered, series, true_offset

from profiler import simulate
from profiler.calibration import pipeline
from profiler.errors import ProfileError
from profiler.files.sheet import read_sheet
from profiler.frames.cache import MeasureCache
from profiler.onset.profile import Profile


def calibrated(kind: Kind, seed: int) -> tuple[Profile, float]:
    """The profile of a written and measured series, and the true offset of the asked label."""
    with tempfile.TemporaryDirectory() as where:
        folder = Path(where) / "series"
        spec = series(kind, seed)
        simulate.write_series(spec, folder)
        sheet = read_sheet(folder / "sheet.csv")
        cache = MeasureCache(Path(where) / "cache")
        try:
            measured = pipeline.measure(folder, sheet, patch="0.2,0.2,0.6,0.6", cache=cache)
        finally:
            cache.close()
    return Profile(pipeline.fit(measured, sheet)), true_offset(spec, kind.asked)


def main(seeds: int) -> None:
    """Print the record."""
    print("# Answers between ISO labels\n")
    print(f"Made by `.venv/bin/python tests/onset/between_runs.py {seeds}`, through DNG files.")
    print("Gains of labels are off by 0.02 EV, readings, iris and shutter as the budget says.\n")
    print("| body | asked | runs | held | largest error EV | half interval EV |")
    print("|---|---|---|---|---|---|")
    for kind in KINDS:
        errors, halves, held = [], [], 0
        for seed in range(1, seeds + 1):
            profile, true = calibrated(kind, seed)
            found = answered(profile, kind.asked)
            errors.append(abs(found.value - true))
            halves.append(0.5 * (found.high - found.low))
            held += found.low <= true <= found.high
        print(
            f"| {kind.name} | {kind.asked} from {', '.join(map(str, kind.measured))} | {seeds} | "
            f"{held} | {max(errors):.2f} | {np.median(halves):.2f} |",
            flush=True,
        )
    print("\n| body | asked | runs | refused |")
    print("|---|---|---|---|")
    for kind in REFUSED:
        refused = 0
        for seed in range(1, seeds + 1):
            profile, _ = calibrated(kind, seed)
            try:
                answered(profile, kind.asked)
            except ProfileError:
                refused += 1
        print(
            f"| {kind.name} | {kind.asked} from {', '.join(map(str, kind.measured))} | {seeds} | "
            f"{refused} |",
            flush=True,
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20)
