"""What rounding to coarse codes adds to the uncertainty."""

from __future__ import annotations

import math
from collections.abc import Sequence

from profiler.calibration.assemble.case import Case
from profiler.calibration.fit import budget
from profiler.records import FrameMeasure
from profiler.results import BudgetRow, Source


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
