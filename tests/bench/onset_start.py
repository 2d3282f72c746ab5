"""How soon the commands on set answer, against an empty Python of the same run.

    .venv/bin/python tests/bench/onset_start.py [TIMES]

Each command is started as a user starts it, in a process of its own, and timed as a whole; the
best and the median of TIMES runs (9) are printed in seconds, and as a multiple of `python -c pass`.
A benchmark, not a test.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

MAIN = "from profiler.cli.main import main; main()"
GOAL_S = 0.3


def commands(profile: str, page: str) -> dict[str, list[str]]:
    """Command lines by name."""
    return {
        "settings": ["settings", profile, "EV 10.3", "--iso", "400", "--aperture", "f/8"],
        "place": ["place", profile, "--iso", "400", "--key", "EV 12", "--spot", "shirt=EV 14.1"]
        + ["--spot", "hair=EV 8.2", "--setting", "f/8 1/250"],
        "mix": ["mix", "--flash", "f/8 ISO 100", "--ambient", "EV 8", "--time", "1/60"]
        + ["--flash-reading", "alone", "--share", "70"],
        "convert": ["convert", "EV", "12"],
        "plan": ["plan", "--iso", "100", "--iso", "400", "--reading", "EV 11"],
        "plan, page": ["plan", "--iso", "400", "--page", page, "--replace"],
    }


def best_and_median(words: list[str], times: int) -> tuple[float, float]:
    """Seconds of a process, the best and the median of some runs; one run before isn't counted."""
    taken = []
    for _ in range(times + 1):
        started = time.perf_counter()
        subprocess.run(words, check=True, capture_output=True)
        taken.append(time.perf_counter() - started)
    return min(taken[1:]), statistics.median(taken[1:])


def make_profile(folder: Path) -> Path:
    """A profile of an invented body with three labels, as `greytare demo` makes it."""
    from profiler import pipeline, simulate
    from profiler.files.profile import save_profile
    from profiler.simulate.memory import measure_in_memory

    spec = simulate.standard_series(
        simulate.load_body("halden-h2"), 11, labels=(100, 400, 800), pairs=True, size=(96, 64)
    )
    measurement, sheet = measure_in_memory(spec, 0.6)
    path = folder / "body.profile.json"
    save_profile(pipeline.fit(measurement, sheet, light="daylight"), path)
    return path


def main() -> None:
    """Print a table."""
    times = int(sys.argv[1]) if len(sys.argv) > 1 else 9
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        profile = make_profile(folder)
        empty = best_and_median([sys.executable, "-c", "pass"], times)
        print(f"{'':12} {'best s':>8} {'median s':>9} {'x empty Python':>15}")
        print(f"{'empty Python':12} {empty[0]:8.3f} {empty[1]:9.3f} {1.0:15.1f}")
        for label, words in commands(str(profile), str(folder / "plan.html")).items():
            best, median = best_and_median([sys.executable, "-c", MAIN, *words], times)
            late = "" if best < GOAL_S else f"   over {GOAL_S} s"
            print(f"{label:12} {best:8.3f} {median:9.3f} {best / empty[0]:15.1f}{late}")


if __name__ == "__main__":
    main()
