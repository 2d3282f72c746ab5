"""Refusal of a result too wide to act on."""

from __future__ import annotations

import numpy as np

from profiler import standards
from profiler.calibration.assemble.case import Case
from profiler.errors import MeasureError
from profiler.results import Result, Source


def check_actionable(result: Result, case: Case) -> None:
    """Raise MeasureError where the offset's interval is wider than standards.WIDEST_EV.

    The message names what widens it most and, where that is the frames themselves, the frame that
    lies furthest off.
    """
    half = 0.5 * (result.offset_ev.high - result.offset_ev.low)
    if half <= standards.WIDEST_EV:
        return
    worst = max(result.budget, key=lambda row: row.contribution_ev)
    response = case.fit.response
    used = int(np.sum(response.kept & np.isfinite(response.deviation_ev)))
    lit = "1 frame lies" if used == 1 else f"{used} frames lie"
    blame = f"most of it comes from the {worst.source} ({worst.basis}); {lit} on the straight part"
    if worst.source == Source.FIT_SCATTER and used > 1:
        off = np.where(response.kept, np.abs(response.deviation_ev), 0.0)
        k = int(np.nanargmax(off))
        blame += f", and {case.group.frames[k].file} lies {off[k]:.1f} EV off the others"
    raise MeasureError(
        f"the offset is only known within ± {half:.1f} EV, too wide to act on: {blame}",
        f"ISO {case.group.iso}",
        "Shoot at least five different times between the floor and clip, with two lens-cap frames "
        "marked dark in the sheet, or write no in the column 'use' for a frame that went wrong",
    )
