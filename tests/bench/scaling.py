"""How a fleet's run scales with its workers: shares measured here, 64 workers on paper.

    python tests/bench/scaling.py [--frames 24] [--size 4000x3000] [--series 4] [--rounds 2]

The parts of one series are measured as CPU time, in which other work on the machine doesn't count;
what the writer does is measured by the clock, for it waits for the disk. A worker that reads over a
network of rate R takes c + B/R seconds for a series: c is its computing, B are the bytes. One
writer takes s seconds for each. With w workers no more than

    X = min(w / (c + B/R), R / B, 1 / s)

series a second are done: w workers that never wait, the network, or the writer (the asymptotic
bounds of a closed queue: Denning and Buzen, ACM Computing Surveys 10 (1978) 225; from memory).
One and two local jobs and dask workers are then timed on the same files, and their results compared
file by file.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import resource
import statistics
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from fleet import compressed_fleet, fleetlab, start_up, timed

from profiler.calibration import pipeline
from profiler.files.profile import profile_json
from profiler.files.sheet import read_sheet
from profiler.fleet.batch.store import open_store
from profiler.fleet.index import Index
from profiler.frames.cache import MeasureCache
from profiler.frames.folder import list_frames

WORKERS = (1, 2, 4, 8, 16, 32, 64)
RATES = {"disk of its own": float("inf"), "10 Gbit/s": 1.1e9, "1 Gbit/s": 0.11e9}
"""Bytes a second that a network hands out in practice: some 90 % of its name."""
BODIES = 10_000


def seconds(work: Callable[[], object]) -> float:
    """How long a call takes."""
    started = time.perf_counter()
    work()
    return time.perf_counter() - started


def cpu_s() -> float:
    """CPU seconds of this process and of those that it has started and not yet seen end."""
    own = Path("/proc/self/task")
    pids = " ".join((each / "children").read_text() for each in own.iterdir()).split()
    ticks = 0
    for pid in pids:
        told = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
        ticks += int(told[11]) + int(told[12])
    return time.process_time() + ticks / os.sysconf("SC_CLK_TCK")


def cpu(work: Callable[[], object]) -> float:
    """How much CPU time a call takes."""
    started = cpu_s()
    work()
    return cpu_s() - started


def shares(folder: Path, scratch: Path, rounds: int) -> dict[str, float]:
    """Seconds for each part of a series, medians of some rounds; `bytes` besides."""
    import rawpy

    files = list_frames(folder)
    sheet = read_sheet(folder / "sheet.csv")

    def read() -> None:
        for path in files:
            path.read_bytes()

    def read_and_hash() -> None:
        for path in files:
            hashlib.sha256(path.read_bytes()).hexdigest()

    def decode() -> None:
        for path in files:
            with rawpy.imread(str(path)) as raw:
                _ = raw.raw_image_visible[0, 0]

    def measure(k: int) -> float:
        with closing(MeasureCache(scratch / f"cache{k}")) as cache:
            return cpu(lambda: pipeline.measure(folder, sheet, cache=cache, threads=1))

    found: dict[str, list[float]] = {}

    def note(**parts: float) -> None:
        for name, value in parts.items():
            found.setdefault(name, []).append(value)

    measure(-1)  # starts the process that decodes
    for k in range(rounds):
        note(read=cpu(read), hash=cpu(read_and_hash), decode=cpu(decode), measure=measure(k))
    with closing(MeasureCache(scratch / "cache0")) as cache:
        measured = pipeline.measure(folder, sheet, cache=cache, threads=1)
    profile = pipeline.fit(measured, sheet, light="daylight")
    text = profile_json(profile)
    with open_store(scratch / "out") as store:
        for k in range(20):
            note(
                fit=cpu(lambda: profile_json(pipeline.fit(measured, sheet, light="daylight"))),
                commit=seconds(lambda k=k: store.keep(f"s{k}", text, None, {"key": "x"})),
            )
        index = Index(store.profiles)
        note(index=seconds(index.look) / 20)
    middle = {name: statistics.median(values) for name, values in found.items()}
    for name in ("hash", "decode"):  # each has read the files as well, from the system's memory
        middle[name] -= middle["read"]
    parts = sum(middle[name] for name in ("read", "hash", "decode"))
    middle["statistics"] = middle["measure"] - parts
    return middle | {"bytes": float(sum(path.stat().st_size for path in files))}


def rate(workers: int, part: dict[str, float], network: float) -> float:
    """Series a second, at most."""
    alone = part["hash"] + part["decode"] + part["statistics"] + part["fit"] + part["read"]
    bounds = (
        workers / (alone + part["bytes"] / network),
        network / part["bytes"],
        1.0 / (part["commit"] + part["index"]),
    )
    return min(bounds)


def told(part: dict[str, float], frames: int) -> None:
    """Print the shares and the table on paper."""
    names = ("read", "hash", "decode", "statistics", "fit", "commit", "index")
    whole = sum(part[name] for name in names)
    print(f"one series of {frames} frames, {part['bytes'] / 1e6:.0f} MB, one thread:")
    for name in names:
        who = "the one writer" if name in ("commit", "index") else "its worker"
        print(f"  {name:10} {1e3 * part[name]:8.1f} ms  {part[name] / whole:6.2%}  {who}")
    print(f"on paper, {BODIES} bodies: hours, and times as fast as one worker")
    print("  workers " + "".join(f"{name:>22}" for name in RATES))
    for workers in WORKERS:
        cells = []
        for network in RATES.values():
            fast = rate(workers, part, network)
            cells.append(
                f"{BODIES / fast / 3600.0:.1f} h, {fast / rate(1, part, network):.1f} x".rjust(22)
            )
        print(f"  {workers:7} " + "".join(cells))
    print(f"  the writer alone would hold {rate(10**9, part, float('inf')):.0f} series a second")


def checked(root: Path, folder: Path, options: argparse.Namespace, part: dict[str, float]) -> None:
    """Time one and two jobs and dask workers on the same files; all leave the same results."""
    from distributed import LocalCluster

    def local(jobs: int) -> tuple[float, float]:
        """Seconds by the clock, and CPU seconds of the workers with what they start."""
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        took = timed(root, folder, jobs=jobs, threads=1)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        return took, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

    start = statistics.median(start_up() for _ in range(3))
    runs = [local(jobs) for _ in range(options.rounds) for jobs in (1, 2)]
    one, two = (statistics.median(took for took, _ in runs[k::2]) for k in (0, 1))
    work, both = (statistics.median(used for _, used in runs[k::2]) for k in (0, 1))
    wanted = fleetlab.results_of(folder / "out")
    paper = options.series / rate(1, part, float("inf"))
    print(
        f"{options.series} series on {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}; "
        f"on paper {paper:.1f} s of CPU. One job: {work:.1f} s of CPU, {one:.1f} s by the clock; "
        f"two: {both:.1f} s, {two:.1f} s, so {one / two:.2f} x (a worker starts in {start:.1f} s)"
    )
    os.environ["GREYTARE_CACHE"] = str(folder / "cache")
    for workers in (1, 2, 3, 4):
        with LocalCluster(
            n_workers=workers, threads_per_worker=1, processes=True, dashboard_address=None
        ) as lab:
            took = timed(root, folder, address=lab.scheduler_address)
        same = fleetlab.results_of(folder / "out") == wanted
        print(
            f"dask, {workers} workers on {os.cpu_count()} cores: {took:.1f} s, results "
            f"{'the same byte for byte' if same else 'DIFFERENT'}",
            flush=True,
        )
        assert same


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--series", type=int, default=4)
    words.add_argument("--frames", type=int, default=24)
    words.add_argument("--size", default="4000x3000")
    words.add_argument("--rounds", type=int, default=2)
    options = words.parse_args()
    width, height = (int(n) for n in options.size.split("x"))
    with tempfile.TemporaryDirectory(prefix="greytare-scaling-") as name:
        folder = Path(name)
        root = compressed_fleet(folder / "root", options.series, options.frames, width, height)
        part = shares(root / "s000", folder / "scratch", options.rounds)
        told(part, options.frames)
        checked(root, folder, options, part)


if __name__ == "__main__":
    main()
