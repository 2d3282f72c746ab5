"""How many drifting bodies of a fleet are found, and how many still ones are accused.

    python tests/fleet/drift_power.py [FLEETS] > tests/fleet/DRIFT.md

Fleets of 200 invented bodies, checked once a year by one meter. Each calibration scatters by the
stated standard deviation; its budget says 0.059 EV for what one body's calibrations don't share.
"""

from __future__ import annotations

import math
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import fleetlab
import numpy as np

from profiler.fleet import p_values, tracks
from profiler.fleet.columns import Rows, column
from profiler.fleet.compare import SIGNIFICANT
from profiler.fleet.correlation import Correlation
from profiler.fleet.drift import CONTROL, histories
from profiler.fleet.read_rows import profile_rows

BODIES = 200
SLOPES = (0.0, 0.02, 0.05, 0.10)
SCATTERS = (0.015, 0.058)


def fleet(base, rng, slopes, scatter, checks):
    """Rows of bodies with these slopes in EV a check."""
    n = len(slopes) * checks
    body = np.repeat(np.arange(len(slopes)), checks)
    check = np.tile(np.arange(checks), len(slopes))
    y = np.repeat(slopes, checks) * check + rng.normal(0.0, scatter, n)
    whole = Rows.of([base] * n)
    half = 1.959964 * fleetlab.U
    return whole.replaced(
        camera_serial=column("camera_serial", [f"{k:04d}" for k in body]),
        series=column("series", [f"{k:04d}/{c}" for k, c in zip(body, check, strict=True)]),
        date=column("date", [f"{2015 + c}-06-01" for c in check]),
        offset_ev=y,
        offset_low_ev=y - half,
        offset_high_ev=y + half,
    )


def found(rows):
    """Which bodies have a trend that counts, in the order of their serials."""
    return np.array([one.trend.significant for one in histories(rows, "offset_ev")])


def by_budget(rows):
    """The same by the budgets alone, corrected for the number of bodies (Holm)."""
    bench, tracks.bench_of = tracks.bench_of, lambda scatter: None
    try:
        made = tracks.make_tracks(rows, "offset_ev", Correlation(), CONTROL)
    finally:
        tracks.bench_of = bench
    return np.array(p_values.holm([one.probability for one in made.trends])) < SIGNIFICANT


def main() -> None:
    fleets = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    folder = Path(tempfile.mkdtemp())
    path = fleetlab.keep(folder, "a", fleetlab.profile("1", 0.0), date="2024-01-01")
    base = replace(profile_rows(path, below=folder)[0], session="", card="")
    print("# Drift: what is found in a fleet of 200 bodies\n")
    print(f"Made by `python tests/fleet/drift_power.py {fleets} > tests/fleet/DRIFT.md`: means of")
    print(f"{fleets} fleets, one meter, a check a year. Half of the bodies drift, as many up as")
    print("down; the other half is still. In the last columns the same by the uncertainty budgets")
    print("alone, corrected by Holm's method, instead of the bench's own repeatability with the")
    print("false discovery rate.\n")
    print(
        "| checks | scatter, EV | drift, EV a check | found of 100 | false of 100 still | share of "
        "false among found | by the budgets: found | false |"
    )
    print("|---|---|---|---|---|---|---|---|")
    for checks in (5, 3):
        for scatter in SCATTERS:
            for slope in SLOPES:
                rng = np.random.default_rng([2026, checks, round(1e3 * scatter)])
                slopes = np.zeros(BODIES)
                slopes[: BODIES // 4], slopes[BODIES // 4 : BODIES // 2] = slope, -slope
                tally = []
                for _ in range(fleets):
                    rows = fleet(base, rng, slopes, scatter, checks)
                    new, old = found(rows), by_budget(rows)
                    half = BODIES // 2
                    sums = [part.sum() for part in (new[:half], new[half:], old[:half], old[half:])]
                    if slope == 0.0:  # all are still
                        sums = [math.nan, new.sum() / 2, math.nan, old.sum() / 2]
                    every = max(1, new.sum())
                    wrong = new.sum() if slope == 0.0 else new[half:].sum()
                    tally.append([*sums, wrong / every])
                hit, false, old_hit, old_false, share = np.mean(tally, axis=0)
                cells = [hit, false, share, old_hit, old_false]
                words = ["–" if math.isnan(c) else f"{c:.1f}" for c in cells]
                words[2] = f"{100.0 * share:.1f} %"
                print(f"| {checks} | {scatter} | {slope:.2f} | {' | '.join(words)} |", flush=True)
    print("\nWhere nothing drifts, each fleet that accuses anybody counts as a whole: the share is")
    print("how many fleets do.")


if __name__ == "__main__":
    main()
