"""Do meters and lenses measured by a body come out as they are, within their intervals?

.venv/bin/python tests/uncertainty/instruments_runs.py 200     writes INSTRUMENTS.md beside it
"""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np
from world.instruments import DISPLAYS, walk

from profiler import simulate
from profiler.calibration import pipeline
from profiler.calibration.instruments.lenses import measure_lenses
from profiler.calibration.instruments.meter import check_meter
from profiler.files.sheet import read_sheet
from profiler.records import Meter
from profiler.simulate.instruments import true_deviations_ev, true_lens_light_ev
from profiler.simulate.memory import measure_in_memory

HEAD = """# Meters and lenses measured by a body

Made by `.venv/bin/python tests/uncertainty/instruments_runs.py RUNS`. Wanted: 93 to 97 % of truths
inside their 95 % intervals, pull near 1; of a meter that bends by +-0.1 EV over its range every
level's deviation, of a lens that loses 0 to 0.7 EV its loss within 0.02 EV.

*second world*: the generator of tests/world, which shares no code with the simulator: meters that
bend and jump between ranges, displays in four forms, two to four frames and readings a level.

| what | series | truths | held | pull | rms error EV | largest EV | mean u EV |
|---|---|---|---|---|---|---|---|
"""
DISPLAY_NAMES = {0.1: "tenths", 1.0 / 3.0: "thirds", 0.01: "hundredths"}
OWN = "Halden 50mm f/1.4"
SEEDS = range(1, 21)
Found = list[tuple[float, float, float, float]]
"""(found - true, u, low - true, high - true) of each truth."""


def line(what: str, series: int, found: Found) -> str:
    """Return the row of one kind of series."""
    error, u, low, high = np.array(found).T
    held = np.mean((low <= 0.0) & (high >= 0.0))
    return (
        f"| {what} | {series} | {error.size} | {100 * held:.1f} % | {np.std(error / u):.2f} | "
        f"{np.sqrt(np.mean(error**2)):.3f} | {np.abs(error).max():.3f} | {u.mean():.3f} |"
    )


def against(estimate: object, true: float) -> tuple[float, float, float, float]:
    """Return an estimate beside its truth."""
    e = estimate
    return e.value - true, e.u, e.low - true, e.high - true  # type: ignore[attr-defined]


def meter_files() -> str:
    """Meters through real DNG files."""
    body, found = simulate.load_body("halden-h2"), []
    for seed in SEEDS:
        spec = simulate.meter_series(
            body,
            seed,
            meter=simulate.HandMeter(bend_ev=0.1),
            shutter_scatter_ev=0.02,
            size=(240, 160),
        )
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name) / "series"
            simulate.write_series(spec, folder)
            sheet = read_sheet(folder / "sheet.csv")
            checked = check_meter(pipeline.measure(folder, sheet), sheet)
        true = [ev for _, ev in sorted(true_deviations_ev(spec).items())]
        found += [against(a.deviation_ev, t) for a, t in zip(checked.levels, true, strict=True)]
    return line("meter, real DNG files, seeds 1 to 20", len(SEEDS), found)


def meters(runs: int) -> list[str]:
    """Meters of several displays, shutters and habits, in memory."""
    body, out = simulate.load_body("halden-h2"), []
    for step, repeat, scatter, each in (
        (0.1, 0.03, 0.02, 3),
        (0.1, 0.055, 0.05, 4),
        (0.1, 0.0, 0.0, 2),
        (1.0 / 3.0, 0.03, 0.02, 3),
        (0.01, 0.03, 0.02, 3),
    ):
        found: Found = []
        for seed in range(runs):
            spec = simulate.meter_series(
                body,
                seed,
                meter=simulate.HandMeter(bend_ev=0.1, resolution_ev=step),
                frames_each=each,
                repeatability_ev=repeat,
                shutter_scatter_ev=scatter,
            )
            checked = check_meter(*measure_in_memory(spec), meter=Meter(resolution_ev=step))
            true = [ev for _, ev in sorted(true_deviations_ev(spec).items())]
            if len(true) == len(checked.levels):  # else the shutter made two levels of one
                found += [
                    against(a.deviation_ev, t) for a, t in zip(checked.levels, true, strict=True)
                ]
        what = f"meter in {DISPLAY_NAMES[step]}, repeats {repeat:g}, shutter {scatter:g} EV, {each}"
        out.append(line(f"{what} frames a level", runs, found))
    return out


def walks(runs: int) -> list[str]:
    """Meters in the second world."""
    out = []
    for display in DISPLAYS:
        found: Found = []
        for seed in range(runs):
            made = walk(seed, display)
            checked = check_meter(made.measurement, made.sheet, meter=made.meter)
            if len(checked.levels) == made.strays_ev.size:
                pairs = zip(checked.levels, made.strays_ev, strict=True)
                found += [against(a.deviation_ev, float(t)) for a, t in pairs]
        out.append(line(f"second world: meter, {display}", runs, found))
    return out


def lens_series(seed: int, *, files: bool, scatter: float, drift: float) -> Found:
    """Every light of a bag of lenses whose losses are drawn between 0 and 0.7 EV."""
    rng = np.random.default_rng([seed, 5])
    losses = {OWN: 0.0} | {f"Orla {k}": float(rng.uniform(0.0, 0.7)) for k in range(1, 4)}
    spec = simulate.lens_series(
        simulate.load_body("halden-h2"),
        seed,
        losses,
        shutter_scatter_ev=scatter,
        drift_ev=drift,
        size=(240, 160) if files else (96, 96),
    )
    if files:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name) / "series"
            simulate.write_series(spec, folder)
            sheet = read_sheet(folder / "sheet.csv")
            measurement = pipeline.measure(folder, sheet)
    else:
        measurement, sheet = measure_in_memory(spec)
    true = true_lens_light_ev(spec)
    return [
        against(mark.light_ev, true[lens.model, mark.aperture])
        for lens in measure_lenses(measurement, sheet, calibrated=OWN, aperture=5.6).lenses
        for mark in lens.marks
        if (lens.model, mark.aperture) != (OWN, 5.6)
    ]


def lenses(runs: int) -> list[str]:
    """Lenses through real files, then in memory with coarser shutters and drifting light."""
    found = [
        row for seed in SEEDS for row in lens_series(seed, files=True, scatter=0.004, drift=0.0)
    ]
    out = [line("lenses, real DNG files, seeds 1 to 20, shutter 0.004 EV", len(SEEDS), found)]
    for scatter, drift in ((0.02, 0.0), (0.02, 0.1), (0.004, 0.2)):
        found = [
            row
            for seed in range(runs)
            for row in lens_series(seed, files=False, scatter=scatter, drift=drift)
        ]
        out.append(line(f"lenses, shutter {scatter:g} EV, drift {drift:g} EV", runs, found))
    return out


def main(runs: int) -> None:
    """Write the record."""
    rows = [meter_files(), *meters(runs), *walks(runs), *lenses(runs)]
    Path(__file__).with_name("INSTRUMENTS.md").write_text(HEAD + "\n".join(rows) + "\n")
    print("\n".join(rows))


if __name__ == "__main__":
    main(int(sys.argv[1]))
