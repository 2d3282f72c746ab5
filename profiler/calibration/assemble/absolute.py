"""Saturation speed, the one absolute figure of a result, with a budget of its own."""

from __future__ import annotations

import math
from collections.abc import Sequence

from profiler import standards
from profiler.calibration.assemble.case import Case
from profiler.calibration.fit import budget
from profiler.calibration.fit.offset import saturation_speed
from profiler.exposure import modes
from profiler.exposure.light import metered_focal_plane_exposure_lx_s
from profiler.records import Estimate
from profiler.results import BudgetRow, Source, Span


def find_saturation_speed(
    case: Case, headroom_ev: Estimate, headroom_rows: Sequence[BudgetRow]
) -> tuple[Span, tuple[BudgetRow, ...]]:
    """Return S_sat = 78/H_sat with its 95 % interval, and the sources behind that.

    log2 S_sat = log2 78 - log2 H - headroom, with H = q K/S or q R C/(pi S) the exposure that the
    meter asks for (ISO 12232:2006, ISO 2720:1974). Headroom compares body with meter, so that K, C
    and lens drop out of it; they all count here.
    """
    q = standards.Q_FACTOR.value
    if case.by_t_stop:
        q /= standards.LENS_TRANSMITTANCE.value  # a T-stop has the lens's loss in it
    h = metered_focal_plane_exposure_lx_s(
        case.group.mode, case.meter, float(case.group.iso), standards.GREY_REFLECTANCE.value, q
    )
    rows = absolute_rows(case, headroom_rows)
    u, dof = budget.combine(rows)
    # a headroom that is at least so much makes a speed that is at most so much
    log2_speed = budget.expand(-headroom_ev.value, u, dof, lower_bound=headroom_ev.lower_bound)
    value, low, high = (
        saturation_speed(h, -ev) for ev in (log2_speed.value, log2_speed.low, log2_speed.high)
    )
    return Span(value=value, low=low, high=high, lower_bound=headroom_ev.lower_bound), rows


def absolute_rows(case: Case, headroom_rows: Sequence[BudgetRow]) -> tuple[BudgetRow, ...]:
    """Return the sources of uncertainty of S_sat in EV: headroom, the meter's constant, the lens.

    Each constant is taken as uncertain by half the range that its standard leaves to it.
    """
    u, dof = budget.combine(headroom_rows)
    rows = [
        budget.stated(
            Source.CLIP_HEADROOM,
            u,
            "combined from its own budget",
            dof=None if math.isinf(dof) else dof,
            sensitivity=-1.0,
        )
    ]
    receptor = modes.receptor(case.group.mode)
    name, limits = standards.METER_RANGES[receptor]
    value = modes.constant_for_mode(case.group.mode, case.meter)
    rows.append(
        budget.bounded(
            Source.METER_CONSTANT,
            0.5 * math.log2(limits[1] / limits[0]),
            f"{name} {value:g} {'cd/m2' if receptor == 'spot' else 'lx'} assumed; "
            f"ISO 2720:1974 leaves {limits[0]:g} to {limits[1]:g}",
            sensitivity=-1.0,
        )
    )
    assumed = standards.LENS_TRANSMITTANCE.value
    if not case.by_t_stop:
        low, high = standards.LENS_TRANSMITTANCE_RANGE
        rows.append(
            budget.bounded(
                Source.LENS_TRANSMITTANCE,
                0.5 * math.log2(high / low),
                f"{assumed:.0%} assumed, as in ISO 12232:2006; lenses pass {low:.0%} to {high:.0%} "
                "(common practice, no source)",
                sensitivity=-1.0,
            )
        )
    on_axis = math.pi / 4.0 * assumed
    rows.append(
        budget.bounded(
            Source.PLACE_IN_FRAME,
            math.log2(on_axis / standards.Q_FACTOR.value),
            f"q {standards.Q_FACTOR.value:g} assumed, for a patch 10 deg off the axis "
            f"(ISO 12232:2006); on it q is {on_axis:.3f}",
            sensitivity=-1.0,
        )
    )
    return tuple(row for row in rows if row.contribution_ev > 0.0)
