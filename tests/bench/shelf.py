"""What a shelf of many results costs: each command as a process, its time and its peak memory.

    python tests/bench/shelf.py [--results 1000 10000 100000]

Four ISO labels a profile, five checks a body. The index is made first; then each command runs
twice and the run with less CPU counts. Beside its CPU time stands the same in units of a bare start
of Python with numpy and pyarrow in the same run, for absolute times are the machine's.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "fleet"))
import fleetlab

from profiler.files.profile import profile_json
from profiler.fleet.batch.store import ABOUT_FORMAT

LABELS = (100, 200, 400, 800)
CHECKS = 5
LIMITS = (
    "interval_days = 3650\n[tolerances]\noffset_ev = {limit = 0.5}\nclip_headroom_ev = {low = 2}"
)
START = "import numpy, pyarrow, pyarrow.parquet"


def shelf(folder: Path, results: int) -> None:
    """Write profiles of so many results as a run leaves them, with drawn offsets."""
    whole = fleetlab.profile("SERIAL", 0.0)
    one = replace(whole.results[0], frames=whole.results[0].frames[:2])
    whole = replace(whole, results=tuple(replace(one, iso=iso) for iso in LABELS))
    data = json.loads(profile_json(fleetlab.with_frames(whole, "shot")))
    rng = np.random.default_rng(results)
    (folder / "run.json").parent.mkdir(parents=True)
    (folder / "run.json").write_text('{"format": "greytare-run", "version": 1}')
    for k in range(results // len(LABELS)):
        body, check = divmod(k, CHECKS)
        place = folder / "profiles" / f"{body // 200:04d}"
        place.mkdir(parents=True, exist_ok=True)
        for result in data["results"]:
            y = float(rng.normal(0.0, 0.02))
            for name, shift in (("offset_ev", 0.0), ("clip_headroom_ev", one.aim_stops)):
                u = fleetlab.U
                result[name] |= {"value": y + shift, "low": y + shift - 2 * u}
                result[name]["high"] = y + shift + 2 * u
        data["camera"]["serial"] = f"{body:06d}"
        for number, frame in enumerate(data["provenance"]["frames"]):
            frame["sha256"] = f"{k:032x}{number:032x}"
        (place / f"{body:06d}-{check}.profile.json").write_text(json.dumps(data))
        about = {"format": ABOUT_FORMAT, "version": 1, "details": {"date": f"{2021 + check}-06-01"}}
        (place / f"{body:06d}-{check}.about.json").write_text(json.dumps(about))


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
from profiler.web.fleet import drifting, one_body, query, table
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
            shelf(folder / "out", results)
            limits, out = folder / "limits.toml", str(folder / "out")
            limits.write_text(LIMITS)
            start = min(run(sys.executable, "-c", START)[0] for _ in range(3))
            first, _, _ = run(*greytare, "table", out, "--out", f"{folder}/first.csv")
            print(f"{results} results, {results // len(LABELS)} profiles; bare start {start:.2f} s")
            print(f"  index made: {first:.1f} s of CPU")
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
            print(f"  pages, once read: {page.stdout or page.stderr[-500:]}", flush=True)


if __name__ == "__main__":
    main()
