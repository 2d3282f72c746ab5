"""What one new series costs on a shelf of many: `fleet run` as a process, and the first index.

    python tests/bench/shelf_run.py [--results 10000 100000] [--frames 20] [--against FOLDER]

Every series is a folder with frames, a sheet, a profile of four ISO labels and what a run keeps
beside it. The frames are empty files whose content the cache knows, for a run looks only at how
they stand. First all profiles are read into an index, then a series of levels is added, run by run.
--against: another copy of the code, run on the same shelf in turns.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from contextlib import closing
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "fleet"))
import fleetlab

from profiler.exposure.aims import parse_aim
from profiler.files.profile import profile_json
from profiler.fleet.batch.store import about_json, about_path
from profiler.fleet.batch.task import Settings, Task, content_key
from profiler.fleet.details import Details
from profiler.frames.cache import MeasureCache, signature_of

LABELS = (100, 200, 400, 800)
CLOCK_S = 10.0
"""So much later than its files a shelf was looked at, in what the cache is told."""


def shelf(folder: Path, results: int, frames: int) -> None:
    """Write root, output folder and cache of a fleet with so many results, as a run leaves them."""
    count = results // len(LABELS)
    settings = Settings(light="daylight", aim=parse_aim("iso12232"))
    one = fleetlab.profile("000000", 0.0)
    base = replace(one.results[0], frames=(one.results[0].frames * 3)[:frames])
    text = profile_json(replace(one, results=tuple(replace(base, iso=iso) for iso in LABELS)))
    root, profiles = folder / "root", folder / "out" / "profiles"
    sheet = "file,reading,mode\n*,EV 12.0,spot\n"
    sheet_sha256 = hashlib.sha256(sheet.encode()).hexdigest()
    names = [f"IMG_{k:04d}.dng" for k in range(frames)]
    (folder / "out").mkdir(parents=True)
    held = json.dumps({"format": "greytare-run", "version": 1, "root": str(root.resolve())})
    (folder / "out" / "run.json").write_text(held)
    MeasureCache(folder / "cache").close()
    with closing(sqlite3.connect(folder / "cache" / "measured.sqlite")) as base_:
        for n in range(count):
            name = f"{n // 200:04d}/{n:06d}"
            place, profile = root / name, profiles / f"{name}.profile.json"
            place.mkdir(parents=True)
            profile.parent.mkdir(parents=True, exist_ok=True)
            (place / "sheet.csv").write_text(sheet)
            rows, digests = [], {}
            for each in names:
                path = place / each
                path.touch()
                digests[each] = hashlib.sha256(f"{name}/{each}".encode()).hexdigest()
                stood = json.dumps(signature_of(path.stat()))
                row = (str(path), stood, time.time_ns() + round(1e9 * CLOCK_S), digests[each])
                rows.append((*row, hashlib.sha256(json.dumps(row).encode()).hexdigest()[:32]))
            base_.executemany("INSERT INTO content VALUES (?, ?, ?, ?, ?)", rows)
            task = Task(name=name, folder=place, root=root, settings=settings)
            own = text.replace('"serial": "000000"', f'"serial": "{n // 5:06d}"')
            for frame in one.provenance.frames:
                shot = hashlib.sha256(f"{n} {frame.file}".encode()).hexdigest()
                own = own.replace(frame.sha256, shot)
            profile.write_text(own)
            about = {
                "series": name,
                "key": content_key(task, Details(), None, sheet_sha256, digests),
                "sheet_sha256": sheet_sha256,
                "details": {},
                "profile_sha256": hashlib.sha256(own.encode()).hexdigest(),
            }
            about_path(profile).write_text(about_json(about))
        base_.commit()


def run(code: Path, folder: Path, *words: str) -> tuple[float, float, float]:
    """CPU seconds of a command with its workers, seconds and peak memory of one process in MB."""
    environment = os.environ | {
        "GREYTARE_CACHE": str(folder / "cache"),
        "PYTHONPATH": str(code),
    }
    started = time.perf_counter()
    command = (sys.executable, "-c", "from profiler.cli.main import main; main()", "fleet", *words)
    with (folder / "said.txt").open("w") as said:
        process = subprocess.Popen(command, stdout=said, stderr=said, env=environment, cwd=folder)
        _, status, usage = os.wait4(process.pid, 0)
    took = time.perf_counter() - started
    if status:
        raise SystemExit((folder / "said.txt").read_text()[-1000:])
    return usage.ru_utime + usage.ru_stime, took, usage.ru_maxrss / 1024.0


def cold(code: Path, folder: Path, count: int) -> None:
    """The first index: every profile is read."""
    shutil.rmtree(folder / "out" / "profiles" / ".index", ignore_errors=True)
    out, table = str(folder / "out"), str(folder / "t.csv")
    cpu, took, peak = run(code, folder, "table", out, "--out", table, "--replace")
    again, _, _ = run(code, folder, "table", out, "--out", table, "--replace")
    print(
        f"  first index: {cpu:.1f} s of CPU, {took:.1f} s by the clock, {peak:.0f} MB, "
        f"{1e3 * (cpu - again) / count:.2f} ms a profile beyond the table itself ({again:.2f} s)",
        flush=True,
    )


def add(code: Path, folder: Path, number: int) -> tuple[float, float, float]:
    """One new series, and the run that takes it in."""
    fleetlab.levels_series(folder / "root" / "new" / f"{number:02d}", f"9{number:05d}", number)
    return run(code, folder, "run", "root", "--out", "out", "--light", "daylight")


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--results", type=int, nargs="+", default=[10_000, 100_000])
    words.add_argument("--frames", type=int, default=20)
    words.add_argument("--rounds", type=int, default=3)
    words.add_argument("--against", type=Path, action="append", default=[])
    options = words.parse_args()
    codes = [Path(__file__).resolve().parents[2], *options.against]
    with tempfile.TemporaryDirectory(prefix="greytare-shelf-") as name:
        for results in options.results:
            folder = Path(name) / str(results)
            shelf(folder, results, options.frames)
            print(f"{results} results, {results // len(LABELS)} series of {options.frames} frames")
            cold(codes[0], folder, results // len(LABELS))
            number = 0
            for k in range(options.rounds):
                for code in codes:
                    cpu, took, peak = add(code, folder, number)
                    number += 1
                    which = "" if len(codes) == 1 else f" {code}"
                    print(
                        f"  run {k + 1}, one new series{which}: {cpu:.1f} s of CPU, {took:.1f} s "
                        f"by the clock, {peak:.0f} MB",
                        flush=True,
                    )
            shutil.rmtree(folder)


if __name__ == "__main__":
    main()
