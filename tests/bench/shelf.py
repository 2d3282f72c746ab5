"""What a shelf of many results costs: each command as a process, its time and its peak memory.

    python tests/bench/shelf.py [--results 1000 10000 100000]

Four ISO labels and twenty frames a profile, five checks a body, the index as a run leaves it. Each
command runs twice and the run with less CPU counts. Beside its CPU time stands the same in units of
a bare start of Python with numpy and pyarrow in the same run, for absolute times are the machine's.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "fleet"))
import fleetlab

from profiler.fleet import index
from profiler.fleet.columns import Rows, column
from profiler.fleet.duplicates import Shots
from profiler.fleet.read_rows import profile_rows

LABELS = (100, 200, 400, 800)
CHECKS = 5
LIMITS = (
    "interval_days = 3650\n[tolerances]\noffset_ev = {limit = 0.5}\nclip_headroom_ev = {low = 2}"
)
START = "import numpy, pyarrow, pyarrow.parquet"


def shelf(folder: Path, results: int) -> None:
    """Write an index of so many results with drawn offsets, as a run leaves it.

    The profiles beside it are empty: with the index nobody opens them.
    """
    path = fleetlab.keep(folder / "one", "a", fleetlab.profile("SERIAL", 0.0), date="2024-01-01")
    base = profile_rows(path, below=path.parent)[0]
    rng = np.random.default_rng(results)
    k = np.arange(results)
    series, iso = k // len(LABELS), np.array(LABELS)[k % len(LABELS)]
    body, check = series // CHECKS, series % CHECKS
    y = rng.normal(0.0, 0.02, results)
    half = 1.959964 * fleetlab.U
    names = [f"{b // 200:04d}/{b:06d}-{c}" for b, c in zip(body, check, strict=True)]
    numbers = {"offset": y, "clip_headroom": y + base.aim_stops}
    numbers["linear_headroom"] = numbers["clip_headroom"] - 0.2
    columns = {}
    for stem, value in numbers.items():
        columns |= {f"{stem}_ev": value, f"{stem}_low_ev": value - half}
        columns[f"{stem}_high_ev"] = value + half
    rows = Rows.of([base] * results).replaced(
        series=column("series", names),
        camera_serial=column("camera_serial", [f"{each:06d}" for each in body]),
        date=column("date", [f"{2021 + each}-06-01" for each in check]),
        iso=iso,
        exposure_index=iso / 2.0**y,
        **columns,
    )
    below = folder / "out" / "profiles"
    for name in dict.fromkeys(names):
        (below / name).parent.mkdir(parents=True, exist_ok=True)
        (below / f"{name}.profile.json").touch()
        (below / f"{name}.about.json").touch()
    (folder / "out" / "run.json").write_text('{"format": "greytare-run", "version": 1}')
    standing = index.scan(below).profiles
    frames = {name: tuple(range(20 * n, 20 * n + 20)) for n, name in enumerate(standing)}
    part = index.Part(
        rows=rows,
        signatures=standing,
        digests={name: f"{n:064x}" for n, name in enumerate(standing)},
        shots=Shots.of(frames),
    )
    index.write_part(below / index.FOLDER, part)


def run(*words: str) -> tuple[float, float, float]:
    """CPU seconds, seconds and peak memory in MB of a process; the output is thrown away."""
    started = time.perf_counter()
    with open(os.devnull, "w") as nowhere:
        process = subprocess.Popen(words, stdout=nowhere, stderr=nowhere)
        _, _, usage = os.wait4(process.pid, 0)
    took = time.perf_counter() - started
    return usage.ru_utime + usage.ru_stime, took, usage.ru_maxrss / 1024.0


PAGE = """
import sys, time
from pathlib import Path
from starlette.datastructures import QueryParams
from profiler.web.fleet import drifting, one_body, query, fleet_table
from profiler.web.session import Session
session = Session(Path(sys.argv[1]))
def ask(**values):
    return query.ask(session, QueryParams({"folder": "out"} | values))
for tool, values in ((table, {}), (drifting, {}), (one_body, {"body": "000001"})):
    tool.answer(ask(**values))
    started = time.process_time()
    tool.form(ask(**values)); tool.answer(ask(find="00001", sort="offset", **values))
    print(f"{tool.__name__.rpartition('.')[2]} {time.process_time() - started:.2f} s", end="; ")
"""


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--results", type=int, nargs="+", default=[1000, 10_000, 100_000])
    options = words.parse_args()
    greytare = (sys.executable, "-c", "from profiler.cli.main import main; main()", "fleet")
    with tempfile.TemporaryDirectory(prefix="greytare-shelf-") as name:
        for results in options.results:
            folder = Path(name) / str(results)
            shelf(folder, results)
            limits, out = folder / "limits.toml", str(folder / "out")
            limits.write_text(LIMITS)
            start = min(run(sys.executable, "-c", START)[0] for _ in range(3))
            print(f"{results} results, {results // len(LABELS)} profiles; bare start {start:.2f} s")
            for what in (
                ("table", out, "--out", f"{folder}/t.csv", "--replace"),
                ("decide", out, "--tolerances", str(limits)),
                ("drift", out, "--tolerances", str(limits)),
            ):
                cpu, took, peak = min(run(*greytare, *what) for _ in range(2))
                over = 1e6 * (cpu - start) / results
                print(
                    f"  {what[0]}: {cpu:.2f} s of CPU ({cpu / start:.1f} bare starts), "
                    f"{took:.1f} s by the clock, {peak:.0f} MB, "
                    f"{over:.0f} us a result beyond the start",
                    flush=True,
                )
            page = subprocess.run(
                [sys.executable, "-c", PAGE, str(folder)], capture_output=True, text=True
            )
            print(f"  pages, once read: {page.stdout}{page.stderr[-500:]}", flush=True)


if __name__ == "__main__":
    main()
