"""The uncertainty that planned frames will give, by the budget that a fit makes up."""

from __future__ import annotations

import math
from collections.abc import Sequence

from profiler import standards
from profiler.calibration.fit import budget
from profiler.calibration.fit.steadiness import likely_change_ev
from profiler.exposure.modes import is_flash
from profiler.records import Meter
from profiler.results import BudgetRow, Source

_LN2 = math.log(2.0)
_QUANTISATION_DN = 1.0 / math.sqrt(12.0)


def on_the_line(placement_ev: float, headroom_ev: float) -> bool:
    """Return whether a frame will lie between the ends of the straight part."""
    share = math.exp2(placement_ev - headroom_ev)
    return standards.LINE_LOW_FRACTION <= share <= standards.LINE_HIGH_FRACTION


def planned_rows(
    placements_by_label: Sequence[Sequence[float]],
    headroom_ev: float,
    mode: str,
    meter: Meter,
    *,
    darks: int,
    t_stop: bool,
    range_dn: float,
    step_ev: float,
    readings: int = 1,
    electronic: bool = False,
) -> tuple[BudgetRow, ...]:
    """Return the budget of the label with fewest frames on the line, in EV.

    placements: of every frame, copies counted. Scatter of one frame over sqrt(n), with the frames
    of all labels behind it; black by its source, weighed down the line; width of the clip code; the
    meter's rows for so many readings taken anew, at both ends of the series where there are more
    than one; what frames and readings can't tell of a drift; the iris; the card for an incident
    reading. Uneven light and a wrong time rule can't be foreseen: a careful series has none.
    """
    from profiler.calibration.assemble import budget_rows

    lines = [
        [x for x in placements if on_the_line(x, headroom_ev)] for placements in placements_by_label
    ]
    fewest = min(lines, key=len)
    if not fewest:
        return ()
    n, times = len(fewest), len(set(fewest))
    scatter_u, dof = _scatter(lines, fewest, electronic=electronic)
    black_dn = standards.DARK_U_DN if darks else standards.TAG_U_DN
    levels = [range_dn * math.exp2(x - headroom_ev) for x in fewest]
    # flashes are metered at every power; readings of a steady light serve all frames
    flash = is_flash(mode)
    count = times if flash else readings
    anew = 1.0 / math.sqrt(count)
    averages = flash or 0.5 * step_ev <= budget.RECTANGULAR * meter.repeatability_ev
    rows = [
        budget_rows.scatter_row(scatter_u, n, scatter_u * math.sqrt(n), dof),
        budget.stated(
            Source.BLACK,
            black_dn / _LN2 * math.fsum(1.0 / level for level in levels) / n,
            "dark frames" if darks else "tag",
        ),
        budget.stated(
            Source.STRAIGHTNESS,
            min(standards.PLAN_STRAIGHT_EV / math.sqrt(n), standards.PLAN_STRAIGHT_MOST_EV),
            "what levels of the channels in one frame usually tell",
        ),
        budget.stated(Source.CLIP, _QUANTISATION_DN / (range_dn * _LN2), "width of the pile-up"),
        *budget_rows.meter_rows(
            meter,
            step_ev,
            repeatability=anew,
            resolution=anew if averages else 1.0,
            readings="one reading" if count == 1 else f"{count} readings",
        ),
        *([] if flash else [_drift(scatter_u, len(lines), readings, meter, step_ev)]),
        *budget_rows.setting_rows(mode, t_stop=t_stop),
    ]
    return tuple(row for row in rows if row.contribution_ev > 0.0)


def _scatter(
    lines: Sequence[Sequence[float]], fewest: Sequence[float], *, electronic: bool
) -> tuple[float, float]:
    """Standard uncertainty in EV that the frames' scatter leaves, with its degrees of freedom.

    The fit steadies the scatter of the times by one frame's worth of what shutters usually do, half
    of whose variance the repeats of a time share, so that few times can't show how good an
    electronic one is; other labels then look too unlike to lend anything (calibration.fit.scatter).
    """
    n, times = len(fewest), len(set(fewest))
    usual = 0.5 * standards.SHUTTER_SCATTER_EV**2 * (1.0 + n / times)
    seen = standards.ELECTRONIC_SCATTER_EV**2 if electronic else usual
    shown = max(times - 1, 0)
    prior = standards.SCATTER_PRIOR_DOF
    variance = (prior * usual + shown * seen) / (prior + shown)
    dof = prior + sum(max(len(line) - 1, 0) for line in lines)
    return math.sqrt(variance / n), prior + shown if electronic else dof


def _drift(scatter_u: float, labels: int, readings: int, meter: Meter, step_ev: float) -> BudgetRow:
    """The row of a light that changes; readings at both ends leave what lies off their middle."""
    trend_u = math.sqrt(12.0 * labels) * scatter_u
    if readings == 1:
        change = likely_change_ev(trend_u, trend_u)
        basis = "one reading; what frames tell of the light"
        return budget.stated(Source.LIGHT_DRIFT, (1.0 - 0.5 / labels) * change, basis)
    single_u = budget.RECTANGULAR * math.hypot(meter.repeatability_ev, 0.5 * step_ev)
    u = 1.0 / math.sqrt(1.0 / trend_u**2 + 0.5 / single_u**2) if single_u > 0.0 else 0.0
    change = likely_change_ev(u, u) if u > 0.0 else 0.0
    basis = "readings before and after; what frames tell of the light"
    return budget.bounded(Source.LIGHT_DRIFT, (0.5 - 0.5 / labels) * change, basis)
