"""The uncertainty that planned frames will give, by the budget that a fit makes up."""

from __future__ import annotations

import math
from collections.abc import Sequence

from profiler import standards
from profiler.calibration.fit import budget
from profiler.calibration.fit.steadiness import likely_change_ev
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
    scatter_ev: float = standards.SHUTTER_SCATTER_EV,
) -> tuple[BudgetRow, ...]:
    """Return the budget of the label with fewest frames on the line, in EV.

    placements: of every frame, copies counted. Scatter of one frame over sqrt(n), with the frames
    of all labels behind it; black by its source, weighed down the line; width of the clip code; the
    meter's rows; what the frames can't tell of a drift; the iris; the card for an incident reading.
    Uneven light and a wrong time rule can't be foreseen: a careful series has none.
    """
    from profiler.calibration.assemble import rows as budget_rows

    lines = [
        [x for x in placements if on_the_line(x, headroom_ev)] for placements in placements_by_label
    ]
    fewest = min(lines, key=len)
    if not fewest:
        return ()
    n, times = len(fewest), len(set(fewest))
    # before a frame is seen, half of the scatter's variance is shared by the repeats of a time
    scatter_u = scatter_ev * math.sqrt(0.5 / n + 0.5 / times)
    dof = standards.SCATTER_PRIOR_DOF + sum(max(len(line) - 1, 0) for line in lines)
    black_dn = standards.DARK_U_DN if darks else standards.TAG_U_DN
    levels = [range_dn * math.exp2(x - headroom_ev) for x in fewest]
    # flashes are metered at every power; one reading of a steady light serves all frames
    flash = mode.startswith("flash")
    anew = 1.0 / math.sqrt(times) if flash else 1.0
    readings = f"{times} readings" if flash else "one reading"
    labels = len(lines)
    trend_u = math.sqrt(12.0 * labels) * scatter_u
    lever = 1.0 - 0.5 / labels
    drift_ev = 0.0 if flash else lever * likely_change_ev(trend_u, trend_u)
    rows = [
        budget_rows.scatter_row(scatter_u, n, scatter_ev, dof),
        budget.stated(
            Source.BLACK,
            black_dn / _LN2 * math.fsum(1.0 / level for level in levels) / n,
            "dark frames" if darks else "tag",
        ),
        budget.stated(Source.CLIP, _QUANTISATION_DN / (range_dn * _LN2), "width of the pile-up"),
        *budget_rows.meter_rows(
            meter, step_ev, repeatability=anew, resolution=anew, readings=readings
        ),
        budget.stated(Source.LIGHT_DRIFT, drift_ev, "one reading; what frames tell of the light"),
        *budget_rows.setting_rows(mode, t_stop=t_stop),
    ]
    return tuple(row for row in rows if row.contribution_ev > 0.0)
