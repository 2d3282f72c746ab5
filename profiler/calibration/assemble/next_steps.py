"""What would sharpen a result most: its own budget, added up again with one row changed."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from profiler import standards
from profiler.calibration.fit import budget
from profiler.calibration.fit.montecarlo import half_width_ev
from profiler.exposure.modes import is_flash
from profiler.results import BudgetRow, Result, Source

Kind = Literal["readings", "display", "aperture", "shutter", "frames", "card", "black", "gradient"]
Rows = tuple[BudgetRow, ...]

MOST_STEPS: Final = 3
MORE_READINGS: Final = 3
_LEAST_PART: Final = 0.05  # a step that gains less isn't worth its trouble
_LEAST_EV: Final = 0.003
_STEADY_LIGHTS: Final = ("daylight", "other")
_COPY_S: Final = 1.0


@dataclass(frozen=True, kw_only=True)
class NextStep:
    """One thing to do, after those before it: half the 95 % interval in EV before and after.

    more: readings or frames to add. to_ev: step of the display, limits of the card. minutes: at the
    camera; 0 where nothing is shot or read again.
    """

    kind: Kind
    before_ev: float
    after_ev: float
    more: int = 0
    to_ev: float = 0.0
    aperture: float = 0.0
    minutes: float = 0.0


def next_steps(results: Sequence[Result]) -> tuple[Result | None, tuple[NextStep, ...]]:
    """Return the least certain of a profile's results, with at most three steps for it.

    Each is the one that gains most once those before it are done. None, and no steps, where clip
    was seen in no result: then brighter frames are what it needs.
    """
    known = [result for result in results if not result.offset_ev.lower_bound]
    if not known:
        return None, ()
    worst = max(known, key=lambda result: result.offset_ev.high - result.offset_ev.low)
    labels = sum((r.mode, r.light) == (worst.mode, worst.light) for r in results)
    return worst, _steps(worst, labels)


def _steps(result: Result, labels: int) -> tuple[NextStep, ...]:
    rows, found = result.budget, list[NextStep]()
    before = 0.5 * (result.offset_ev.high - result.offset_ev.low)
    left = _changes(result, labels)
    while len(found) < MOST_STEPS:
        tried = {
            step.kind: (step, changed)
            for step, change in left
            if (changed := change(rows)) is not None
        }
        if not tried:
            break
        best = min(tried.values(), key=lambda pair: _linear_half(pair[1]))
        after = half_width_ev(best[1])
        if before - after < max(_LEAST_EV, _LEAST_PART * before):
            break
        found.append(replace(best[0], before_ev=before, after_ev=after))
        rows, before = best[1], after
        left = [pair for pair in left if pair[0].kind != best[0].kind]
    return tuple(found)


Change = Callable[[Rows], Rows | None]


def _changes(result: Result, labels: int) -> list[tuple[NextStep, Change]]:
    """What may be done about a result, each with what it does to the rows."""
    frames = sum(frame.used for frame in result.frames)
    again = len(result.frames) * (standards.PLAN_FRAME_S + _COPY_S) / 60.0
    apertures = {frame.aperture for frame in result.frames if frame.aperture}
    found: list[tuple[NextStep, Change]] = [
        (
            _step("readings", more=MORE_READINGS, minutes=_reading_minutes(MORE_READINGS)),
            lambda rows: more_readings(rows, MORE_READINGS, labels),
        ),
        (_step("display", to_ev=standards.FINE_STEP_EV), finer_display),
        (
            _step("frames", more=frames, minutes=again),
            lambda rows: _scatter(rows, 1.0 / math.sqrt(2.0), frames),
        ),
        (
            _step("card", to_ev=standards.KNOWN_CARD_EV),
            lambda rows: _limits(rows, Source.CARD_REFLECTANCE, standards.KNOWN_CARD_EV),
        ),
        (_step("gradient", minutes=again), lambda rows: _without(rows, Source.PATCH_GRADIENT)),
    ]
    if len(apertures) == 1:
        step = _step("aperture", aperture=apertures.pop())
        found.append((step, lambda rows: _without(rows, Source.APERTURE_MARK)))
    if result.light in _STEADY_LIGHTS and not is_flash(result.mode):
        part = _electronic_part(result)
        found.append((_step("shutter", minutes=again), lambda rows: _scatter(rows, part, 0)))
    if result.black_source != "dark frames":
        part = standards.DARK_U_DN / standards.TAG_U_DN
        found.append(
            (_step("black", more=2, minutes=0.5), lambda rows: _shrunk(rows, Source.BLACK, part))
        )
    return found


def _step(kind: Kind, **more: float) -> NextStep:
    return NextStep(kind=kind, before_ev=0.0, after_ev=0.0, **more)  # type: ignore[arg-type]


def more_readings(rows: Rows, more: int, labels: int) -> Rows | None:
    """Return the rows with further readings of the same light, some of them after the last frame.

    Of k readings 1/sqrt(k) of one's error is left; rounding averages out as far as the readings
    scatter across the display's steps. With readings at both ends the light's change is known to
    the middle of the series, of which each of several labels lies off by its place.
    """
    repeat, shown = _row(rows, Source.METER_REPEATABILITY), _row(rows, Source.METER_RESOLUTION)
    if repeat is None or repeat.half_width_ev is None:
        return None
    k = 1.0 / repeat.sensitivity**2
    part = math.sqrt(k / (k + more))
    share = repeat.sensitivity * part
    changed = [_mean(Source.METER_REPEATABILITY, repeat, share)]
    if shown is not None and shown.half_width_ev is not None and _averages(repeat, shown):
        changed.append(_mean(Source.METER_RESOLUTION, shown, share))
    drift = _row(rows, Source.LIGHT_DRIFT)
    if drift is not None and drift.distribution == "normal":
        changed.append(_times(drift, (labels - 1.0) / (2.0 * labels - 1.0)))
    return _with(rows, *changed)


def finer_display(rows: Rows) -> Rows | None:
    """Return the rows with readings to a hundredth of an EV, whose rounding then averages too."""
    repeat, shown = _row(rows, Source.METER_REPEATABILITY), _row(rows, Source.METER_RESOLUTION)
    if shown is None or repeat is None or (shown.half_width_ev or 0.0) <= standards.FINE_STEP_EV:
        return None
    finer = replace(shown, half_width_ev=0.5 * standards.FINE_STEP_EV)
    return _with(rows, _mean(Source.METER_RESOLUTION, finer, repeat.sensitivity))


def _averages(repeat: BudgetRow, shown: BudgetRow) -> bool:
    """Whether the readings' own scatter moves them across the steps of the display."""
    return (shown.half_width_ev or 0.0) <= repeat.u_ev


def _mean(source: Source, row: BudgetRow, share: float) -> BudgetRow:
    return budget.averaged(source, row.half_width_ev or 0.0, row.basis, share=share)


def _electronic_part(result: Result) -> float:
    """Part of the frames' scatter that is left without a moving shutter.

    The fit steadies the scatter by a frame's worth of what shutters usually do, so that few frames
    can't show how good an electronic one is.
    """
    scatter = _row(result.budget, Source.FIT_SCATTER)
    dof = max((scatter.dof if scatter is not None else None) or 1.0, 1.0)
    prior = standards.SCATTER_PRIOR_DOF * standards.SHUTTER_SCATTER_EV**2
    own = max(dof - standards.SCATTER_PRIOR_DOF, 0.0)
    after = prior + own * standards.ELECTRONIC_SCATTER_EV**2
    before = max(dof * result.frame_scatter_ev**2, after)
    return min(1.0, math.sqrt(after / before))


def _scatter(rows: Rows, part: float, more: int) -> Rows | None:
    row = _row(rows, Source.FIT_SCATTER)
    if row is None:
        return None
    dof = row.dof if row.dof is None else row.dof + more
    return _with(rows, replace(_times(row, part), dof=dof))


def _limits(rows: Rows, source: Source, half_width: float) -> Rows | None:
    row = _row(rows, source)
    if row is None or (row.half_width_ev or 0.0) <= half_width:
        return None
    return _with(rows, budget.bounded(source, half_width, row.basis))


def _shrunk(rows: Rows, source: Source, part: float) -> Rows | None:
    row = _row(rows, source)
    return None if row is None else _with(rows, _times(row, part))


def _without(rows: Rows, source: Source) -> Rows | None:
    kept = tuple(row for row in rows if row.source != source)
    return kept if len(kept) < len(rows) else None


def _times(row: BudgetRow, part: float) -> BudgetRow:
    """The row with a part of its uncertainty."""
    return replace(
        row,
        u_ev=part * row.u_ev,
        half_width_ev=None if row.half_width_ev is None else part * row.half_width_ev,
        contribution_ev=part * row.contribution_ev,
    )


def _with(rows: Rows, *changed: BudgetRow) -> Rows:
    """The rows with those of the same sources in their place."""
    by_source = {row.source: row for row in changed}
    return tuple(by_source.get(row.source, row) for row in rows)


def _row(rows: Rows, source: Source) -> BudgetRow | None:
    return next((row for row in rows if row.source == source), None)


def _linear_half(rows: Rows) -> float:
    u, dof = budget.combine(rows)
    return budget.coverage_factor(dof) * u


def _reading_minutes(readings: int) -> float:
    return readings * standards.PLAN_READING_S / 60.0
