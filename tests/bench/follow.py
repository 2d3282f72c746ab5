"""How long after its last byte a 24 MP frame is a point on the line.

    .venv/bin/python tests/bench/follow.py

Frames are copied piece by piece into a folder that the command follows; the clock starts when the
last byte is written and stops when the command has printed the frame. Beside it stands a bare
decode of the same files in the same minute.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import numpy as np

from profiler import simulate
from profiler.frames.decode import open_mosaic

FRAMES = 10
PIECE = 4 << 20


def main() -> None:
    """Print seconds from whole file to point, and those of a bare decode."""
    with tempfile.TemporaryDirectory() as text:
        root = Path(text)
        spec = simulate.standard_series(
            simulate.load_body("halden-h2"),
            4,
            labels=(400,),
            frames_per_label=FRAMES,
            darks=0,
            size=(6000, 4000),
            compression="lossless",
            shutter_scatter_ev=0.02,
        )
        frames = simulate.write_series(spec, root / "shelf").frames
        mb = sum(frame.stat().st_size for frame in frames) / 1e6 / len(frames)
        print(f"{len(frames)} frames of 24 MP, lossless, {mb:.0f} MB each")
        bare = []
        for frame in frames:
            began = time.monotonic()
            with open_mosaic(frame):
                bare.append(time.monotonic() - began)
        waits = follow(root, frames)
        for name, seconds in (("bare decode", bare), ("whole file to point", waits)):
            print(
                f"{name}: median {np.median(seconds):.2f} s, longest {max(seconds):.2f} s, "
                f"{np.median(seconds) / np.median(bare):.2f} times a bare decode"
            )


def follow(root: Path, frames: tuple[Path, ...]) -> list[float]:
    """Return the seconds from the last byte of each frame to its line in the terminal."""
    folder = root / "growing"
    folder.mkdir()
    words = ["-c", "from profiler.cli.main import main; main()", "follow", str(folder)]
    running = subprocess.Popen(
        [sys.executable, *words, "--reading", "EV 10.1"],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"GREYTARE_CACHE": str(root / "cache")},
    )
    told: dict[str, float] = {}

    def listen() -> None:
        for line in running.stdout or ():
            told.setdefault(line.split()[0], time.monotonic())

    threading.Thread(target=listen, daemon=True).start()
    time.sleep(2.0)
    waits = []
    for frame in frames:
        content = frame.read_bytes()
        with (folder / frame.name).open("wb") as copy:
            for start in range(0, len(content), PIECE):
                copy.write(content[start : start + PIECE])
                copy.flush()
                time.sleep(0.05)
        whole = time.monotonic()
        while frame.name not in told:
            time.sleep(0.005)
        waits.append(told[frame.name] - whole)
    running.terminate()
    running.wait()
    return waits


if __name__ == "__main__":
    main()
