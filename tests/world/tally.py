"""What many calibrations of one world come to."""

from __future__ import annotations

import math
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np

from profiler.calibration import pipeline
from profiler.calibration.fit.budget import combine, coverage_factor
from profiler.errors import GreytareError
from profiler.records import Flag, Meter
from profiler.results import ProfileData, Result
from profiler.standards import AIM_ISO12232_STOPS

from .kind import Series, World
from .shoot import shoot
from .worlds import WORLDS

OUTSIDE = ("aperture mark", "card", "light drift", "trend")
REAL_ERROR_EV = 0.15  # a frame this far off is rightly called a slip
RULES = {"exact": "exact", "marked": "as-marked"}
INFORMATION = ("noise-upper-bound", "noise-not-measured")  # nothing is wrong


@dataclass(frozen=True)
class Run:
    """One calibration: error, u and half interval of the offset, whether it held, flags.

    here: the interval for the aperture of the frames held the offset at that aperture.
    """

    error_ev: float
    u_ev: float
    half_ev: float
    held: bool
    bound: bool
    fit_error_ev: float | None
    fit_held: bool | None
    frames: int
    false: frozenset[str]
    found: bool | None
    refused: str = ""
    here: bool = False
    here_half_ev: float = 1.0


def run(world: World, seed: int) -> Run:
    """Return one calibration's outcome; of several labels one counts, as they share errors."""
    series = shoot(world, seed)
    meter = Meter(resolution_ev=world.told_step_ev) if world.told_step_ev else None
    try:
        profile = pipeline.fit(series.measurement, series.sheet, meter=meter)
    except GreytareError as error:
        return Run(0.0, 1.0, 1.0, False, False, None, None, 0, frozenset(), None, str(error))
    result = profile.results[seed % len(profile.results)]
    true = series.headroom_ev[result.iso] - AIM_ISO12232_STOPS
    offset = result.offset_ev
    error = offset.value - true
    held = offset.low <= true <= (math.inf if offset.lower_bound else offset.high)
    here = result.at_measured_aperture.offset_ev
    fit_error = None if series.given_ev is None else error - series.given_ev
    return Run(
        error_ev=error,
        u_ev=offset.u,
        half_ev=0.5 * (offset.high - offset.low),
        held=held,
        bound=offset.lower_bound,
        fit_error_ev=fit_error,
        fit_held=None if fit_error is None else abs(fit_error) <= fit_half_ev(world, result),
        frames=sum(f.used for f in result.frames),
        false=frozenset(false_flags(world, series, profile)),
        found=found(world, series, profile),
        here=here.low <= true - series.iris_ev <= (math.inf if here.lower_bound else here.high),
        here_half_ev=0.5 * (here.high - here.low),
    )


def fit_half_ev(world: World, result: Result) -> float:
    """Half of the 95 % interval that the frames alone would have: no meter, iris or card.

    Readings that differ from frame to frame are part of the frames' scatter.
    """
    outside = OUTSIDE if world.readings == "each frame" else (*OUTSIDE, "meter")
    rows = [row for row in result.budget if not row.source.startswith(outside)]
    u, dof = combine(rows)
    return coverage_factor(dof) * u


def false_flags(world: World, series: Series, profile: ProfileData) -> list[str]:
    """Names of flags that nothing in the series stands behind."""
    return [
        flag.name
        for result in profile.results
        for flag in result.flags
        if flag.name not in world.truly + INFORMATION and not _real(flag, series, result)
    ]


def _real(flag: Flag, series: Series, result: Result) -> bool:
    """Whether a flag tells what happened, though the world isn't about it."""
    if flag.name == "slip":
        error = series.frame_error_ev[flag.where]
        return flag.where in series.slips or abs(error) > REAL_ERROR_EV
    if flag.name == "sheet-against-files":
        return bool(series.slips)  # a time that is typed wrong contradicts its file
    if flag.name == "uneven-exposures":
        return series.uneven_ev > 0.07
    if flag.name in ("trend", "light-drift"):
        return series.drift_ev > 0.05
    if flag.name == "unusual-offset":
        return abs(series.headroom_ev[result.iso] - AIM_ISO12232_STOPS) > 0.8
    if flag.name == "few-frames":
        return len(result.frames) < 6
    return False


def found(world: World, series: Series, profile: ProfileData) -> bool | None:
    """Whether all that went wrong was named; None in a world where nothing does."""
    flags = [flag for result in profile.results for flag in result.flags]
    if world.judges_rule:
        right = profile.results[0].time_rule.used == RULES[world.rule]
        return right or "time-rule-unsure" in {flag.name for flag in flags}
    if not world.fault:
        return None
    if world.slips:
        return series.slips <= {flag.where for flag in flags if flag.name == "slip"}
    return set(world.fault) <= {flag.name for flag in flags}


@dataclass(frozen=True)
class Tally:
    """Shares over the calibrations of one world; refused ones don't count in the other columns.

    false: name of a flag -> share of calibrations that carry it without reason.
    """

    runs: int
    refused: float
    held: float
    bounds: float
    pull_mean: float
    pull_sd: float
    rms_ev: float
    fit_held: float | None
    efficiency: float | None
    false: dict[str, float]
    found: float | None
    missed: tuple[int, ...]


def tally(world: World, seeds: int, jobs: int = 1) -> Tally:
    """Repeat one world over seeds 0, 1, 2 ..."""
    if jobs == 1:
        runs = [run(world, seed) for seed in range(seeds)]
    else:
        with ProcessPoolExecutor(jobs) as pool:
            runs = list(pool.map(partial(_run_named, world.name), range(seeds), chunksize=10))
    return summary(world, runs)


def _run_named(name: str, seed: int) -> Run:
    """A run by the world's name, for another process."""
    return run(next(world for world in WORLDS if world.name == name), seed)


def summary(world: World, runs: list[Run]) -> Tally:
    """Return the shares of runs in the order of their seeds."""
    good = [r for r in runs if not r.refused]
    stated = [r for r in good if not r.bound] or good
    pull = np.array([r.error_ev / r.u_ev for r in stated] or [np.nan])
    fits = [r for r in good if r.fit_error_ev is not None and not r.bound]
    count = Counter(name for r in good for name in r.false)
    caught = [r.found for r in good if r.found is not None]
    efficiency = None
    if world.efficiency:
        bound = world.efficiency * math.sqrt(float(np.mean([1.0 / r.frames for r in fits])))
        efficiency = float(np.std([r.fit_error_ev for r in fits])) / bound
    return Tally(
        runs=len(runs),
        refused=1.0 - len(good) / len(runs),
        held=float(np.mean([r.held for r in good])) if good else math.nan,
        bounds=float(np.mean([r.bound for r in good])) if good else math.nan,
        pull_mean=float(pull.mean()),
        pull_sd=float(pull.std()),
        rms_ev=float(np.sqrt(np.mean([r.error_ev**2 for r in stated]))) if stated else math.nan,
        fit_held=float(np.mean([bool(r.fit_held) for r in fits])) if fits else None,
        efficiency=efficiency,
        false={name: k / len(good) for name, k in count.most_common()},
        found=float(np.mean(caught)) if caught else None,
        missed=tuple(seed for seed, r in enumerate(runs) if r.refused or not r.held),
    )
