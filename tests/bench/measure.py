"""Measuring against bare decoding, memory against length, re-fitting against an empty Python.

    .venv/bin/python tests/bench/measure.py [WIDTHxHEIGHT]

Prints ratios of one run on one machine; a benchmark, not a test.
"""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from statistics import median

# both time themselves, libraries loaded, the decoding process too: a command or page keeps it
DECODE = """
import sys, time, rawpy
from concurrent.futures import ThreadPoolExecutor
def one(path):
    with rawpy.imread(path) as raw:
        return int(raw.raw_image[0, 0])
started = time.perf_counter()
with ThreadPoolExecutor(2) as pool:
    list(pool.map(one, sys.argv[1:]))
print(time.perf_counter() - started)
"""
MEASURE = """
import resource, sys, time
from pathlib import Path
import exiv2  # a command loads it while the decoding process starts
from profiler.calibration import pipeline
from profiler.files.sheet import read_sheet
from profiler.frames import decoder, tags
folder = Path(sys.argv[1])
sheet = read_sheet(folder / "sheet.csv")
started = time.perf_counter()
decoder.start_decoder()
decoder.decode_apart(str, room_bytes=1 << 30)  # waits until its libraries are loaded
loaded = time.perf_counter()
pipeline.measure(folder, sheet)
ended = time.perf_counter()
decoder.stop_decoders()
whose = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
peak = sum(resource.getrusage(who).ru_maxrss for who in whose)
print(ended - loaded, loaded - started, peak)
"""
FIT = "from profiler.cli.main import main; main()"


def run(code: str, *words: str, cache: Path) -> tuple[float, str]:
    """Seconds and output of one Python process."""
    started = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", code, *words],
        check=True,
        text=True,
        capture_output=True,
        env=os.environ | {"GREYTARE_CACHE": str(cache)},
    )
    return time.perf_counter() - started, done.stdout


def series(folder: Path, size: tuple[int, int], frames: int) -> Path:
    """A series of `frames` lossless files whose contents all differ, from eight rendered ones."""
    from profiler import simulate

    spec = simulate.standard_series(
        simulate.load_body("halden-h2"),
        1,
        labels=(400,),
        frames_per_label=8,
        darks=0,
        size=size,
        compression="lossless",
    )
    made = simulate.write_series(spec, folder)
    names = [path.name for path in made.frames]
    rows = made.sheet.read_text()
    for number in range(len(names), frames):
        source = made.folder / names[number % len(names)]
        copy = made.folder / f"COPY_{number:04d}.dng"
        copy.write_bytes(source.read_bytes() + bytes([number % 251]))  # another hash, same pixels
    (made.folder / "sheet.csv").write_text(rows)
    return made.folder


def main() -> None:
    """Print the ratios."""
    text = sys.argv[1] if len(sys.argv) > 1 else "6000x4000"
    width, height = (int(part) for part in text.split("x"))
    root = Path(tempfile.mkdtemp(prefix="greytare-bench-"))
    try:
        print(f"{width}x{height} lossless, two threads, {os.cpu_count()} cores")
        memory = {}
        for count in (8, 32):
            folder = series(root / str(count), (width, height), count)
            files = [str(p) for p in sorted(folder.glob("*.dng"))]
            with ThreadPoolExecutor(1) as pool:  # page cache warm for both
                list(pool.map(lambda p: Path(p).read_bytes()[:1], files))
            bares, times, starts = [], [], []
            for attempt in range(5):  # by turns, so that a busy moment hits both
                bares.append(float(run(DECODE, *files, cache=root / "none")[1]))
                cache = root / f"cache-{count}-{attempt}"
                seconds, start, peak = run(MEASURE, str(folder), cache=cache)[1].split()
                times.append(float(seconds))
                starts.append(float(start))
                memory[count] = int(peak) / 1024.0
            ratios = [one / bare for one, bare in zip(times, bares, strict=True)]
            print(
                f"{count:3d} frames: ratio {median(ratios):.3f} in the median of "
                f"{' '.join(f'{each:.2f}' for each in ratios)} (wanted: 1.05 at most); best times "
                f"{min(times):.2f} s, bare decode {min(bares):.2f} s; start of the decoding "
                f"process {min(starts):.2f} s; peak memory of both {memory[count]:.0f} MiB"
            )
        print(f"memory, 32 frames against 8: {memory[32] / memory[8]:.3f} (wanted: about 1)")
        folder = root / "small"
        subprocess.run(
            [sys.executable, "-c", FIT, "simulate", str(folder), "--darks", "0"],
            check=True,
            capture_output=True,
        )
        cache = root / "fit-cache"
        words = ("fit", str(folder), "--out", str(root / "p.json"), "--replace")
        run(FIT, *words, cache=cache)
        again = min(run(FIT, *words, cache=cache)[0] for _ in range(5))
        empty = min(run("pass", cache=cache)[0] for _ in range(5))
        numpy = min(run("import numpy", cache=cache)[0] for _ in range(5))
        print(
            f"re-fit of 24 frames from the cache: {again:.3f} s, "
            f"{again / empty:.0f} x an empty Python ({empty:.3f} s), "
            f"{again / numpy:.1f} x importing numpy ({numpy:.3f} s) (wanted: 0.5 s at most)"
        )
    finally:
        peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024.0
        print(f"largest child process: {peak:.0f} MiB")
        shutil.rmtree(root, ignore_errors=True)


if __name__ == "__main__":
    main()
