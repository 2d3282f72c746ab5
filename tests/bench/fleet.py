"""What a fleet costs: ratios of times taken in one run, since absolute times are the machine's.

    python tests/bench/fleet.py [--series 8] [--frames 8] [--size 4000x3000] [--profiles 10000]

Frames are lossless-JPEG DNGs; each series is a copy with a byte more, so that no cache knows it.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from statistics import median

from profiler import simulate
from profiler.fleet.batch.run import run_fleet
from profiler.fleet.index import find_profiles
from profiler.fleet.table import frame

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "fleet"))
import fleetlab


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--series", type=int, default=8)
    words.add_argument("--frames", type=int, default=8)
    words.add_argument("--size", default="4000x3000")
    words.add_argument("--profiles", type=int, default=10_000)
    words.add_argument("--rounds", type=int, default=3)
    words.add_argument("--only", choices=["jobs", "cluster", "table", "memory", "decode"])
    options = words.parse_args()
    width, height = (int(n) for n in options.size.split("x"))
    with tempfile.TemporaryDirectory(prefix="greytare-bench-") as name:
        folder = Path(name)
        wanted = (
            {options.only} if options.only else {"jobs", "cluster", "table", "memory", "decode"}
        )
        if wanted - {"table"}:
            root = compressed_fleet(folder / "root", options.series, options.frames, width, height)
            megapixels = width * height / 1e6
            if "jobs" in wanted:
                jobs(root, folder, options, megapixels)
            if "cluster" in wanted:
                over_cluster(root, folder, options)
            if "decode" in wanted:
                against_decode(root, folder, options)
            if "memory" in wanted:
                memory(root, folder)
        if "table" in wanted:
            table(folder, options.profiles)


def compressed_fleet(root: Path, series: int, frames: int, width: int, height: int) -> Path:
    """Write one series, then copies of it that differ by a byte a file."""
    started = time.perf_counter()
    plan = simulate.standard_series(
        simulate.load_body("halden-h2"),
        1,
        labels=(400,),
        frames_per_label=frames - 1,
        darks=1,
        size=(width, height),
        compression="lossless",
    )
    first = simulate.write_series(plan, root / "s000")
    for k in range(1, series):
        there = root / f"s{k:03d}"
        shutil.copytree(first.folder, there)
        for path in there.glob("*.dng"):
            with path.open("ab") as stream:
                stream.write(bytes([k]))
    size = first.frames[0].stat().st_size / 1e6
    print(
        f"{series} series of {len(first.frames)} frames, {width} x {height}, {size:.1f} MB each, "
        f"written in {time.perf_counter() - started:.0f} s"
    )
    return root


def timed(root: Path, folder: Path, **how: object) -> float:
    """Seconds of a whole run with an empty cache, start of processes included."""
    out = folder / "out"
    shutil.rmtree(out, ignore_errors=True)
    shutil.rmtree(folder / "cache", ignore_errors=True)
    os.environ["GREYTARE_CACHE"] = str(folder / "cache")
    started = time.perf_counter()
    summary = run_fleet(root, out, **how)  # type: ignore[arg-type]
    seconds = time.perf_counter() - started
    assert not summary.failures, summary.failures
    assert summary.measured == summary.series
    return seconds


def jobs(root: Path, folder: Path, options: argparse.Namespace, megapixels: float) -> None:
    """Two local jobs of one thread against one of one thread, in turns."""
    one, two = in_turns(
        options.rounds,
        lambda: timed(root, folder, jobs=1, threads=1),
        lambda: timed(root, folder, jobs=2, threads=1),
    )
    frames = options.series * options.frames
    print(f"two jobs against one: {one / two:.2f} x (wanted: 1.8)")
    print(
        f"one job, one thread: {one / options.series:.2f} s a body of {options.frames} frames, "
        f"{1000.0 * one / frames / megapixels:.1f} ms a megapixel"
    )


def over_cluster(root: Path, folder: Path, options: argparse.Namespace) -> None:
    """Two cluster workers on this machine against two local jobs, in turns."""
    from distributed import LocalCluster

    os.environ["GREYTARE_CACHE"] = str(folder / "cache")
    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as lab:
        here, there = in_turns(
            options.rounds,
            lambda: timed(root, folder, jobs=2, threads=1),
            lambda: timed(root, folder, address=lab.scheduler_address),
        )
    print(f"cluster over local: {100.0 * (there / here - 1.0):+.1f} % (wanted: +10 at most)")


def against_decode(root: Path, folder: Path, options: argparse.Namespace) -> None:
    """One job of one thread against a bare decode of the same files in one thread."""
    import rawpy

    def bare() -> float:
        started = time.perf_counter()
        for path in sorted(root.rglob("*.dng")):
            with rawpy.imread(str(path)) as raw:
                _ = raw.raw_image_visible[0, 0]
        return time.perf_counter() - started

    decode, whole = in_turns(options.rounds, bare, lambda: timed(root, folder, jobs=1, threads=1))
    start = median(start_up() for _ in range(3))
    print(
        f"run against bare decode: {whole / decode:.3f}, "
        f"{(whole - start) / decode:.3f} without the start of the worker ({start:.2f} s)"
    )


def start_up() -> float:
    """Seconds to start a worker and load what it needs."""
    started = time.perf_counter()
    code = "import rawpy, exiv2, profiler.calibration.pipeline, profiler.fleet.batch.task, msgspec"
    subprocess.run([sys.executable, "-c", code], check=True)
    return time.perf_counter() - started


def table(folder: Path, count: int) -> None:
    """Read so many profiles, and a tenth of them."""
    # as large as a profile of one label and 40 frames
    results = fleetlab.template().results
    whole = replace(results[0], frames=(results[0].frames * 3)[:40])
    made = replace(fleetlab.profile("0", 0.0), results=(whole,))
    base = fleetlab.keep(folder / "profiles", "a", made)
    text = base.read_text()
    base.unlink()
    places = {n: folder / f"p{n}" for n in (count // 10, count)}
    for n, place in places.items():
        for k in range(n):
            path = place / f"{k // 500:03d}" / f"{k:06d}.profile.json"
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text.replace('"serial": "0"', f'"serial": "{k:06d}"', 1))

    def read(place: Path) -> float:
        started = time.perf_counter()
        rows, wrong = fleetlab.read_profiles(find_profiles(place), below=place)
        made = frame(rows)
        assert not wrong
        assert made["camera_serial"].is_unique
        return time.perf_counter() - started

    read(places[count // 10])
    few, many = in_turns(3, lambda: read(places[count // 10]), lambda: read(places[count]))
    print(
        f"table of {count} profiles ({len(text) / 1e3:.0f} kB each): {many:.2f} s (wanted: under "
        f"5 s for 10000); ten times as many cost {many / few:.1f} x"
    )


def memory(root: Path, folder: Path) -> None:
    """Peak memory of parent and workers for a fleet and for one series of it."""
    peaks = {}
    for name, place in (("one series", root / "s000"), ("all", root)):
        code = (
            "import resource, sys; from pathlib import Path\n"
            "from profiler.fleet.batch.run import run_fleet\n"
            "if __name__ == '__main__':\n"
            f"    run_fleet(Path({str(place)!r}), Path({str(folder / name)!r}), jobs=1)\n"
            "    for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN):\n"
            "        print(resource.getrusage(who).ru_maxrss // 1024)\n"
        )
        (folder / "memory.py").write_text(code)
        environment = os.environ | {"GREYTARE_CACHE": str(folder / "mem" / f"cache {name}")}
        done = subprocess.run(
            [sys.executable, str(folder / "memory.py")],
            env=environment,
            capture_output=True,
            text=True,
            check=True,
        )
        peaks[name] = [int(line) for line in done.stdout.split()]
    for k, who in enumerate(("parent", "worker")):
        few, all_ = peaks["one series"][k], peaks["all"][k]
        print(f"peak memory of the {who}: {few} MB for one series, {all_} MB for all")


def in_turns(rounds: int, a: Callable[[], float], b: Callable[[], float]) -> tuple[float, float]:
    """Medians of two measurements taken alternately, so that a slow spell hits both."""
    pairs = [(a(), b()) for _ in range(rounds)]
    return median(x for x, _ in pairs), median(y for _, y in pairs)


if __name__ == "__main__":
    print(f"{os.cpu_count()} cores, page size {resource.getpagesize()}")
    main()
