"""Every fault at full and half its size over ten seeds: found, held, or wrong without a word.

.venv/bin/python tests/calibration/faults_many.py          writes tests/calibration/FAULTS.md
.venv/bin/python tests/calibration/faults_many.py 3 knee   prints some faults over three seeds
"""

from __future__ import annotations

import os
import sys
import tempfile
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # two processes, not two threads in each
sys.path.insert(0, str(Path(__file__).parent))

from duties import DUTIES
from faults_walk import Outcome, walk

from profiler import simulate

SEEDS = 10
PIXELS = (240, 160)
HALF = {
    # sizes that grow as the fault shrinks: where the bend begins, what is left
    "knee": 0.8,
    "coarse-dark": 0.3,
    "card-small": 0.4,
    "curve-coded": 10.0,
    "few-frames": 5.0,
    # whole frames
    "time-missing": 1.0,
    "mixed-bodies": 1.0,
    "mixed-lenses": 1.0,
    "truncated-file": None,
    "zero-file": None,
    "half-file": None,
}
HEAD = """# Faults at full and half their size, over {seeds} seeds

Made by `.venv/bin/python tests/calibration/faults_many.py` with frames of 240 x 160 pixels.

*found*: the series is refused, or a result carries the flag that the table of duties names (any
flag, where the duty is to survive). *held*: the truth lies inside every label's interval. *silent*:
outside, and nothing says so: a wrong number without a word. *off by*: the worst error of an offset
over the seeds with its interval, in EV. Half of a switch, or of one frame, there is none.

| fault | duty | size | found | held | silent | off by | half | found | held | silent | off by |
|---|---|---|---|---|---|---|---|---|---|---|---|
"""


@dataclass(frozen=True)
class Seen:
    """How many seeds were found, held or silent, with the worst error and its interval."""

    size: float
    runs: int
    found: int
    held: int
    silent: int
    error_ev: float
    half_ev: float


def half_size(name: str) -> float | None:
    """Return the size at which a fault is half as bad; None where there is no such size."""
    fault, duty = simulate.FAULTS[name], DUTIES[name]
    if not fault.unit:
        return None
    if name in HALF:
        return HALF[name]
    return 0.5 * (fault.size if duty.size is None else duty.size)


def found(name: str, outcome: Outcome) -> bool:
    """Whether something was said of the fault."""
    duty = DUTIES[name]
    if outcome.refused:
        return True
    return bool(outcome.flags & set(duty.says) if duty.kind == "flag" else outcome.flags)


def silent(name: str, outcome: Outcome) -> bool:
    """Whether the number is wrong without a word."""
    return not found(name, outcome) and not outcome.held


def one(task: tuple[str, float | None, int]) -> Outcome:
    """Return the outcome of one fault at one size with one seed."""
    name, size, seed = task
    with tempfile.TemporaryDirectory() as folder:
        return walk(name, Path(folder), seed, size=size, pixels=PIXELS)


def seen(name: str, size: float, outcomes: list[Outcome]) -> Seen:
    """Return what became of one fault at one size."""
    answered = [o for o in outcomes if not o.refused]
    worst = max(answered, key=lambda o: abs(o.error_ev) / o.half_ev, default=None)
    return Seen(
        size=size,
        runs=len(outcomes),
        found=sum(found(name, o) for o in outcomes),
        held=sum(o.held for o in answered),
        silent=sum(silent(name, o) for o in outcomes),
        error_ev=worst.error_ev if worst else 0.0,
        half_ev=worst.half_ev if worst else 0.0,
    )


def cells(s: Seen | None, unit: str) -> list[str]:
    """Return the five cells of one size."""
    if s is None:
        return [""] * 5
    off = f"{s.error_ev:+.2f} ± {s.half_ev:.2f}" if s.half_ev else "refused"
    return [f"{s.size:g} {unit}".strip(), str(s.found), str(s.held), str(s.silent), off]


def main(seeds: int, names: list[str]) -> None:
    """Print the rows; the record is written when every fault was tried."""
    rows = []
    with ProcessPoolExecutor(2) as pool:
        for name, duty in DUTIES.items():
            if names and name not in names:
                continue
            fault = simulate.FAULTS[name]
            sizes = [fault.size if duty.size is None else duty.size, half_size(name)]
            tried = [
                seen(
                    name, size, list(pool.map(one, [(name, size, k) for k in range(1, seeds + 1)]))
                )
                if size is not None
                else None
                for size in sizes
            ]
            row = [f"`{name}`", duty.kind, *cells(tried[0], fault.unit), *cells(tried[1], "")]
            rows.append("| " + " | ".join(row) + " |")
            print(rows[-1], flush=True)
    if not names:
        text = HEAD.format(seeds=seeds) + "\n".join(rows) + "\n"
        (Path(__file__).parent / "FAULTS.md").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else SEEDS, sys.argv[2:])
