"""How much a light that changed over the series may have moved a label."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

from profiler import standards
from profiler.calibration.assemble.case import Case
from profiler.calibration.exposures import readings_ev
from profiler.calibration.fit.steadiness import likely_change_ev


@dataclass(frozen=True, kw_only=True)
class Drift:
    """Change of the light over the series and what of it reaches the label's metered level.

    change_ev: root mean square of the likely change; lever: part of it that the level carries;
    differ_ev: by how much the readings for all frames differ, beyond_meter whether by more than
    the meter's own figures allow; readings: how many there are for all frames; unexplained: the
    readings differ by more, but the frames show no such change.
    """

    change_ev: float
    lever: float
    differ_ev: float
    beyond_meter: bool
    readings: int
    unexplained: bool

    @property
    def half_width_ev(self) -> float:
        """Limits +- of the label's metered level for the change of light.

        Where readings differ that the frames don't explain, either may be the wrong one.
        """
        moved = self.lever * self.change_ev
        return max(moved, 0.5 * self.differ_ev) if self.unexplained else moved


def find_drift(case: Case) -> Drift:
    """Return the drift of the light as frame errors and readings tell it together.

    One reading may have been taken before the first frame or after the last. Several for all
    frames span the series: their mean stands in its middle, unless the frames show a trend that
    the readings don't. A frame's own readings follow the light.
    """
    trend, error = case.trend, case.reading_error
    mode = case.group.mode
    spans = [readings_ev(exposure, mode, case.meter) for exposure in case.group.exposures]
    values = max(spans, key=lambda v: max(v) - min(v))
    differ = max(values) - min(values)
    middle = case.middle
    change, u = trend.change_ev, trend.u_ev
    single_u = error.single_u_ev
    beyond = differ > differ_limit_ev(len(values), single_u)
    rise, rise_u = values[-1] - values[0], math.sqrt(2.0) * single_u
    apart = math.isfinite(u) and abs(change - rise) > 3.0 * math.hypot(u, rise_u)
    if error.own:
        lever = abs(middle - 0.5) if trend.seen else 0.0
    elif len(values) == 1:
        lever = max(middle, 1.0 - middle)
    else:
        if trend.seen and apart:
            lever = max(middle, 1.0 - middle)
        else:
            lever = abs(middle - 0.5)
            precision = 1.0 / u**2 if math.isfinite(u) else 0.0
            both = precision + 1.0 / rise_u**2
            change = (precision * change if precision else 0.0) / both + rise / rise_u**2 / both
            u = 1.0 / math.sqrt(both)
    if beyond and not error.own:
        lever += standards.DRIFT_SHAPE  # no straight line: a lamp warming up, a cloud
    return Drift(
        change_ev=likely_change_ev(change, u, trend.dof),
        lever=lever,
        differ_ev=differ,
        beyond_meter=beyond,
        readings=len(values),
        unexplained=beyond and apart,
    )


def differ_limit_ev(readings: int, single_u_ev: float) -> float:
    """Return the difference in EV that readings of a steady light rarely exceed.

    Normal quantile at standards.DRIFT_FALSE shared out over all pairs of readings.
    """
    pairs = max(readings * (readings - 1) / 2.0, 1.0)
    quantile = NormalDist().inv_cdf(1.0 - 0.5 * standards.DRIFT_FALSE / pairs)
    return quantile * math.sqrt(2.0) * single_u_ev
