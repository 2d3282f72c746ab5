"""The sources of uncertainty of one result."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from profiler import standards
from profiler.calibration.assemble.budget_rows import (
    linearity_row,
    meter_rows,
    scatter_row,
    setting_rows,
)
from profiler.calibration.assemble.case import Case
from profiler.calibration.assemble.drift import find_drift
from profiler.calibration.exposures import straightened_readings
from profiler.calibration.fit import budget
from profiler.calibration.fit.offset import find_headroom
from profiler.calibration.fit.scatter import by_group
from profiler.records import FrameMeasure
from profiler.results import BudgetRow, Source


def budget_rows(case: Case) -> tuple[BudgetRow, ...]:
    """Return the sources of uncertainty of headroom and offset, which share them all."""
    k = case.headroom.first
    response = case.fit.response
    rows = [
        scatter_row(
            float(case.headroom.scatter_u_ev[k]),
            int(response.kept.sum()),
            response.scatter_ev,
            response.scatter_dof,
        ),
        black_row(case),
        budget.stated(
            Source.CLIP, float(case.headroom.clip_u_ev[k]), "width of the pile-up of codes"
        ),
        straight_row(case),
        *reading_rows(case),
        drift_row(case),
    ]
    rows += setting_rows(case.group.mode, t_stop=case.by_t_stop)
    change = time_rule_change_ev(case)
    rows.append(
        budget.stated(
            Source.TIME_RULE,
            change * math.sqrt(case.series_fit.doubt),
            f"exact or marked times, wrong one with probability {case.series_fit.doubt:.2g}",
        )
    )
    rows += [gradient_row(case), rounding_row(case)]
    return tuple(row for row in rows if row.contribution_ev > 0.0)


def reading_rows(case: Case) -> list[BudgetRow]:
    """Return the rows of the meter: frames that share a reading share its error."""
    error, weight = case.reading_error, case.frame_weight
    several = math.sqrt(error.several)
    repeatability = math.sqrt(by_group(weight, np.array(error.taken))) / several
    resolution = repeatability
    if not error.averages:
        resolution = math.sqrt(by_group(weight, np.array(error.shown)))
    rows = meter_rows(
        case.meter,
        error.step_ev,
        repeatability=repeatability,
        resolution=resolution,
        readings="one reading" if error.count == 1 else f"{error.count} readings",
    )
    if case.group.mode in case.meter.linearity:
        read = [straightened_readings(e, case.group.mode, case.meter) for e in case.group.exposures]
        parts = [(one, w / len(of)) for of, w in zip(read, weight, strict=True) for one in of]
        rows.append(linearity_row([one for one, _ in parts], [float(w) for _, w in parts]))
    return rows


def drift_row(case: Case) -> BudgetRow:
    """Return the row of a light that changed between readings and frames."""
    drift = find_drift(case)
    if case.reading_error.own:
        basis = "each frame has its own reading"
    elif drift.readings == 1:
        basis = "order of the frames; one reading, before the first frame or after the last"
    else:
        basis = "order of the frames, readings before and after"
    if drift.readings == 1 and not case.reading_error.own:
        # the reading stands at one end or the other: the whole change, with either sign
        return budget.stated(Source.LIGHT_DRIFT, drift.half_width_ev, basis)
    return budget.bounded(Source.LIGHT_DRIFT, drift.half_width_ev, basis)


def straight_row(case: Case) -> BudgetRow:
    """Return the row of a response that isn't quite straight between grey and clip."""
    line = case.fit.curvature
    limit = standards.STRAIGHT_WITHIN / math.sqrt(3.0)
    if line.u < limit:
        part, basis = math.hypot(line.part, line.u), "levels of the channels in one frame"
    else:
        part, basis = limit, "a bend of 2 % at clip would not show"
    u = part * (1.0 - line.middle) / math.log(2.0)
    return budget.stated(Source.STRAIGHTNESS, u, basis)


def black_row(case: Case) -> BudgetRow:
    """Return the row of black; where the line gave it, of as few frames as the line's scatter."""
    u_ev = float(case.headroom.black_u_ev[case.headroom.first])
    of_line = case.fit.black.source == "fit"
    dof = max(case.fit.response.scatter_dof, 2.0) if of_line else None
    return budget.stated(Source.BLACK, u_ev, case.fit.black.source, dof=dof)


def gradient_row(case: Case) -> BudgetRow:
    """Return the row of light that differs between patch and meter."""
    apart = max(case.evenness.reading_ev(frame.place) for frame in case.group.frames)
    return budget.bounded(
        Source.PATCH_GRADIENT, apart, "light across the card, patch against meter"
    )


def time_rule_change_ev(case: Case) -> float:
    """Return how much the headroom would change under the other time rule, in EV."""
    other = next(label for label in case.series_fit.other if label.iso == case.fit.iso)
    k = case.headroom.first
    return abs(float(find_headroom(other).headroom_ev[k] - case.headroom.headroom_ev[k]))


def rounding_row(case: Case) -> BudgetRow:
    """Return the row of values rounded or cut to codes that lie wide apart; 0 for fine ones.

    Half a step at the metered level: whoever dropped the bits rounded or cut, which no file tells.
    Codes of a camera's own converter are fine ones, since its black is rounded likewise.
    """
    step_dn = coarse_step_dn(case.group.frames)
    level_dn = float(case.fit.response.metered_dn[case.headroom.first])
    return budget.bounded(
        Source.ROUNDING,
        math.log2(1.0 + 0.5 * step_dn / level_dn),
        f"steps of {step_dn:g} DN, metered grey {level_dn:.0f} DN above black",
    )


def coarse_step_dn(frames: Sequence[FrameMeasure]) -> float:
    """Return how far the codes lie apart where bits were dropped, in DN; 0 where none were."""
    steps = [c.code_step for frame in frames for c in frame.channels.values()]
    eight = any(flag.name == "eight-bit" for frame in frames for flag in frame.flags)
    widest = float(max(steps, default=0))
    if eight:
        return max(1.0, widest)
    return widest if widest > 1.0 else 0.0
