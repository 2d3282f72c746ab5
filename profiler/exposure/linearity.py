"""A meter's readings corrected by how it strays over its range."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass

from profiler import standards
from profiler.records import Meter


@dataclass(frozen=True, kw_only=True)
class Straightened:
    """A reading in EV at ISO 100, corrected, with what the correction leaves in doubt.

    u_ev: standard uncertainty of the correction; limit_ev: limits +- of what wasn't corrected, for
    a reading outside of the levels that were measured; basis: how it was found, "" for a meter
    whose linearity nobody measured.
    """

    ev100: float
    u_ev: float = 0.0
    limit_ev: float = 0.0
    basis: str = ""


def straightened(ev100: float, mode: str, meter: Meter) -> Straightened:
    """Return a reading less the meter's deviation at that level, between two levels in proportion.

    Outside of the measured levels, by more than standards.LINEARITY_REACH_EV, nothing is
    extrapolated: the reading stays, and the largest deviation seen counts as its limits.

    >>> from profiler.records import Linearity
    >>> bent = Linearity(level_ev100=(4.0, 8.0), deviation_ev=(0.1, -0.1), u_ev=(0.02, 0.02))
    >>> round(straightened(5.0, "spot", Meter(linearity={"spot": bent})).ev100, 3)
    4.95
    >>> straightened(12.0, "spot", Meter(linearity={"spot": bent})).limit_ev
    0.1
    """
    found = meter.linearity.get(mode)
    if found is None:
        return Straightened(ev100=ev100)
    levels = found.level_ev100
    reach = standards.LINEARITY_REACH_EV
    if not levels[0] - reach <= ev100 <= levels[-1] + reach:
        return Straightened(
            ev100=ev100,
            limit_ev=max(abs(each) for each in found.deviation_ev),
            basis=f"outside of the measured EV {levels[0]:.1f} to {levels[-1]:.1f}: "
            "not corrected, its largest deviation counts",
        )
    at = min(max(ev100, levels[0]), levels[-1])
    above = min(bisect_right(levels, at), len(levels) - 1)
    below = above - 1
    part = (at - levels[below]) / (levels[above] - levels[below])
    deviation, u = (
        (1.0 - part) * each[below] + part * each[above] for each in (found.deviation_ev, found.u_ev)
    )
    return Straightened(
        ev100=ev100 - deviation, u_ev=u, basis=f"corrected by {0.0 - deviation:+.2f} EV"
    )
