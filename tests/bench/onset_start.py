"""How soon the commands on set answer, against an empty Python of the same run.

    .venv/bin/python tests/bench/onset_start.py [TIMES]

Each command is started as a user starts it, in a process of its own, and timed as a whole. Printed
are the best and the median of TIMES runs (9) in seconds, the best of their processor times, which a
busy machine changes least, and the best as a multiple of `python -c pass`. A benchmark, not a test.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

MAIN = "from profiler.cli.main import main; main()"
GOAL_S = 0.3


def commands(profile: str, page: str) -> dict[str, str]:
    """Command lines by name, with ~ for a blank inside of a word."""
    return {
        "settings": f"settings {profile} EV~10.3 --iso 400 --aperture f/8",
        "place": f"place {profile} --iso 400 --key EV~12 --spot shirt=EV~14.1 --spot hair=EV~8.2 "
        "--setting f/8~1/250",
        "mix": "mix --flash f/8~ISO~100 --ambient EV~8 --time 1/60 --flash-reading alone",
        "convert": "convert EV 12",
        "plan": "plan --iso 100 --iso 400 --reading EV~11",
        "plan, page": f"plan --iso 400 --page {page} --replace",
    }


def timed(words: list[str], times: int) -> tuple[float, float, float]:
    """Best and median wall seconds with best processor seconds; one run before isn't counted."""
    wall, processor = [], []
    for _ in range(times + 1):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        started = time.perf_counter()
        subprocess.run(words, check=True, capture_output=True)
        wall.append(time.perf_counter() - started)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        processor.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(wall[1:]), statistics.median(wall[1:]), min(processor[1:])


def make_profile(folder: Path) -> Path:
    """A profile of an invented body with three labels, as `greytare demo` makes it."""
    from profiler import simulate
    from profiler.calibration import pipeline
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
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        profile = make_profile(folder)
        lines = {
            name: [sys.executable, "-c", MAIN, *(w.replace("~", " ") for w in line.split())]
            for name, line in commands(str(profile), str(folder / "plan.html")).items()
        }
        print(f"{'':12} {'best s':>8} {'median s':>9} {'processor s':>12} {'x empty':>8}")
        empty = 0.0
        for name, words in ({"empty Python": [sys.executable, "-c", "pass"]} | lines).items():
            best, median, processor = timed(words, times)
            empty = empty or best
            late = "" if best < GOAL_S else f"   over {GOAL_S} s"
            row = f"{name:12} {best:8.3f} {median:9.3f} {processor:12.3f} {best / empty:8.1f}{late}"
            print(row)


if __name__ == "__main__":
    main()
