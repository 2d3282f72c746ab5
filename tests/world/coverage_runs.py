"""Do the stated intervals hold where nothing is drawn from the budget's own distributions?

.venv/bin/python tests/world/coverage_runs.py 1000     writes tests/world/COVERAGE.md
.venv/bin/python tests/world/coverage_runs.py 200 drift slips     prints worlds by part of name
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # two processes, not two threads in each
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from world.kind import World
from world.tally import Tally, tally
from world.worlds import WORLDS

HEAD = """# Coverage in a world that isn't the budget's own

Made by `.venv/bin/python tests/world/coverage_runs.py RUNS`. The generator shares no code with
the simulator; its errors follow other distributions than the budget's. A true offset is what the
mean of many readings of one light by this meter would give for this body.

Wanted: 93 to 97.5 % of truths inside, each false flag in at most 1 % of the series. *fit alone* is
the interval without meter, iris and card, against the error without theirs; *efficiency* the
standard deviation of the fit over its Cramer-Rao bound. A lower bound holds when it isn't above
the truth. Flags are false unless something in the series stands behind them. *no*: refused.

| series | runs | held | pull | sd | rms EV | fit alone | efficiency | false flags | found | no |
|---|---|---|---|---|---|---|---|---|---|---|
"""


def line(world: World, t: Tally) -> str:
    """Return the row of one world."""
    false = ", ".join(f"{name} {100 * share:.1f} %" for name, share in t.false.items())
    bound = f" ({100 * t.bounds:.0f} % bounds)" if t.bounds else ""
    cells = [
        world.name,
        str(t.runs),
        f"{100 * t.held:.1f} %{bound}",
        f"{t.pull_mean:+.2f}",
        f"{t.pull_sd:.2f}",
        f"{t.rms_ev:.3f}",
        "" if t.fit_held is None else f"{100 * t.fit_held:.1f} %",
        "" if t.efficiency is None else f"{t.efficiency:.2f}",
        false or "none",
        "" if t.found is None else f"{100 * t.found:.1f} %",
        f"{100 * t.refused:.1f} %" if t.refused else "none",
    ]
    return "| " + " | ".join(cells) + " |"


def main(seeds: int, names: list[str]) -> None:
    """Print the rows and put them into the record; other worlds keep theirs."""
    record = Path(__file__).parent / "COVERAGE.md"
    old = record.read_text(encoding="utf-8").splitlines() if record.exists() else []
    rows = {row.split(" | ")[0].removeprefix("| "): row for row in old if row.startswith("| ")}
    for world in WORLDS:
        if names and not any(name in world.name for name in names):
            continue
        start = time.monotonic()
        found = tally(world, seeds, jobs=2)
        rows[world.name] = line(world, found)
        took = (time.monotonic() - start) / seeds
        print(rows[world.name], f"{1000 * took:.0f} ms; missed {found.missed[:8]}", flush=True)
        text = HEAD + "\n".join(rows[w.name] for w in WORLDS if w.name in rows) + "\n"
        whys = "\n".join(f"* **{w.name}**: {w.why}." for w in WORLDS if w.why)
        record.write_text(f"{text}\nWhy some lie outside:\n\n{whys}\n", encoding="utf-8")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200, sys.argv[2:])
