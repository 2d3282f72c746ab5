"""Does the stated 95 % interval hold the truth 95 % of the time? Run me for the long answer.

    .venv/bin/python tests/uncertainty/coverage_runs.py 1000 > tests/uncertainty/COVERAGE.md

Every simulated calibration draws its errors from the distributions that the budget states: the
meter's repeatability (rectangular +-0.1 EV), the step of its display (0.1 EV), the iris against
its mark (rectangular +-0.05 EV), the card (rectangular +-0.08 EV, incident modes), the shutter's
scatter, and once in twenty-one times a shutter that runs at its marked times.
"""

from __future__ import annotations

import math
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from profiler import simulate, standards
from profiler.calibration import pipeline
from profiler.calibration.fit.budget import combine
from profiler.simulate.memory import measure_in_memory
from profiler.simulate.truth import result as true_result

SIZE = (96, 96)


@dataclass(frozen=True)
class Case:
    """One kind of calibration to repeat."""

    name: str
    body: str = "halden-h2"
    labels: tuple[int, ...] = (100, 200, 400)
    frames: int = 8
    mode: str = "spot"
    shutter_ev: float = standards.SHUTTER_SCATTER_EV
    iris_ev: float = 0.0


CASES = (
    Case("24 frames, three labels"),
    Case("9 frames, one label", labels=(400,), frames=9),
    Case("X-Trans, 24 frames", body="orrin-x6"),
    Case("monochrome, 24 frames", body="merle-m1"),
    Case("0.15 EV iris scatter, 24 frames", iris_ev=0.15),
    Case("0.15 EV iris scatter, 9 frames", labels=(400,), frames=9, iris_ev=0.15),
    Case("incident flat, 24 frames", mode="incident-flat"),
)


def one(case: Case, seed: int) -> tuple[list[tuple[float, float, bool, bool]], int]:
    """(error, u, offset held, headroom held) per result of one calibration, and its flags."""
    rng = np.random.default_rng([seed, 20260])
    spec = simulate.standard_series(
        simulate.load_body(case.body),
        seed,
        labels=case.labels,
        mode=case.mode,
        frames_per_label=case.frames,
        size=SIZE,
        ev100=10.0 + float(rng.uniform(0.0, 1.0)),
        shutter_scatter_ev=case.shutter_ev,
        iris_scatter_ev=case.iris_ev,
        time_rule="as-marked" if rng.uniform() < 1.0 / 21.0 else "exact",
    )
    iris = rng.uniform(-standards.APERTURE_MARK_EV, standards.APERTURE_MARK_EV)
    card = rng.uniform(-standards.CARD_REFLECTANCE_EV, standards.CARD_REFLECTANCE_EV)
    meter = rng.uniform(-standards.METER_REPEATABILITY_EV, standards.METER_REPEATABILITY_EV)
    given = iris + (card if case.mode != "spot" else 0.0)
    spec = replace(
        spec,
        meter=replace(spec.meter, error_ev=meter, resolution_ev=0.1),
        shots=tuple(s if s.dark else replace(s, iris_ev=s.iris_ev + given) for s in spec.shots),
    )
    measurement, sheet = measure_in_memory(spec)
    profile = pipeline.fit(measurement, sheet)
    out = []
    for result in profile.results:
        true = true_result(spec, result.iso, result.mode)
        offset, headroom = result.offset_ev, result.clip_headroom_ev
        out.append(
            (
                offset.value - true["offset_ev"],
                combine(result.budget)[0],
                offset.low <= true["offset_ev"] <= offset.high,
                headroom.low <= true["clip_headroom_ev"] <= headroom.high,
            )
        )
    return out, len({f.name for r in profile.results for f in r.flags} - {"noise-upper-bound"})


@dataclass(frozen=True)
class Tally:
    """What many calibrations showed: shares of held truths, spread of the pull, flags."""

    seeds: int
    results: int
    offset_held: float
    headroom_held: float
    pull_mean: float
    pull_sd: float
    rms_ev: float
    flagged: float


def tally(case: Case, seeds: int, jobs: int = 2) -> Tally:
    """Repeat one case over seeds; a calibration's first label counts, since labels share errors."""
    if jobs == 1:
        runs = [one(case, seed) for seed in range(seeds)]
    else:
        with ProcessPoolExecutor(jobs) as pool:
            runs = list(pool.map(partial(one, case), range(seeds), chunksize=10))
    rows = np.array([results[seed % len(results)] for seed, (results, _) in enumerate(runs)])
    pull = rows[:, 0] / rows[:, 1]
    return Tally(
        seeds=seeds,
        results=len(rows),
        offset_held=float(rows[:, 2].mean()),
        headroom_held=float(rows[:, 3].mean()),
        pull_mean=float(pull.mean()),
        pull_sd=float(pull.std()),
        rms_ev=float(np.sqrt(np.mean(rows[:, 0] ** 2))),
        flagged=float(np.mean([flags > 0 for _, flags in runs])),
    )


def efficiency(seeds: int) -> tuple[float, float]:
    """Standard deviation of the offset with an exact meter, and its Cramer-Rao bound.

    Frame errors N(0, 0.05) and mean levels with noise far below: the Fisher information on the
    logarithm of the metered level is the sum over unclipped frames of 1/0.05^2.
    """
    case = Case("efficiency", labels=(100, 200, 400))
    errors, frames = [], []
    for seed in range(seeds):
        spec = simulate.standard_series(
            simulate.load_body(case.body), seed, size=SIZE, shutter_scatter_ev=case.shutter_ev
        )
        profile = pipeline.fit(*measure_in_memory(spec))
        for result in profile.results:
            errors.append(
                result.offset_ev.value - true_result(spec, result.iso, "spot")["offset_ev"]
            )
            frames.append(
                sum(f.placement_ev < result.clip_headroom_ev.value for f in result.frames)
            )
    bound = case.shutter_ev * math.sqrt(float(np.mean(1.0 / np.array(frames))))
    return float(np.std(errors)), bound


def main(seeds: int) -> None:
    """Print the record."""
    print("# Coverage of the stated intervals\n")
    print(f"Made by `.venv/bin/python tests/uncertainty/coverage_runs.py {seeds}`.")
    print("Wanted: 93 to 97 % of truths inside, spread of the pull 0.9 to 1.1.\n")
    print(
        "| calibration | runs | offset held | headroom held | mean pull | spread | rms EV "
        "| flagged |"
    )
    print("|---|---|---|---|---|---|---|---|")
    for case in CASES:
        t = tally(case, seeds)
        print(
            f"| {case.name} | {t.seeds} | {100 * t.offset_held:.1f} % | "
            f"{100 * t.headroom_held:.1f} % | {t.pull_mean:+.2f} | {t.pull_sd:.2f} | "
            f"{t.rms_ev:.3f} | {100 * t.flagged:.1f} % |",
            flush=True,
        )
    sd, bound = efficiency(min(seeds, 300))
    print(
        f"\nEfficiency: standard deviation of the offset {sd:.4f} EV, "
        f"Cramer-Rao bound {bound:.4f} EV, ratio {sd / bound:.3f} (wanted: 1.15 at most)."
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
