"""Rows of the budget that a plan can make up before there is a frame; nothing heavy is loaded."""

from __future__ import annotations

import math
from collections.abc import Sequence

from profiler import standards
from profiler.calibration.fit import budget
from profiler.exposure import modes
from profiler.exposure.linearity import Straightened
from profiler.records import Meter
from profiler.results import BudgetRow, Source


def scatter_row(u_ev: float, frames: int, scatter_ev: float, dof: float) -> BudgetRow:
    """Return the row of the frames' own scatter (type A)."""
    return budget.stated(
        Source.FIT_SCATTER,
        u_ev,
        f"{frames} frames, scatter {scatter_ev:.3f} EV each",
        dof=max(dof, 2.0),
    )


def meter_rows(
    meter: Meter,
    step_ev: float,
    *,
    repeatability: float = 1.0,
    resolution: float = 1.0,
    readings: str = "one reading",
) -> list[BudgetRow]:
    """Return the rows that readings bring: repeatability and step of the display.

    repeatability, resolution: what is left of one reading's error in the mean of those taken.
    """
    return [
        budget.averaged(
            Source.METER_REPEATABILITY,
            meter.repeatability_ev,
            f"+-{meter.repeatability_ev:g} EV (common practice, no source, unless stated), "
            f"{readings}",
            share=repeatability,
        ),
        budget.averaged(
            Source.METER_RESOLUTION,
            0.5 * step_ev,
            f"display step {step_ev:.2g} EV, "
            + ("as typed" if meter.resolution_ev is None else "as stated")
            + f", {readings}",
            share=resolution,
        ),
    ]


def linearity_row(found: Sequence[Straightened], weights: Sequence[float]) -> BudgetRow:
    """Return the row of what correcting the readings leaves in doubt; weights: of each reading.

    Readings at levels next to each other err alike, so their doubts add up straight.
    """
    u = math.fsum(
        abs(weight) * math.hypot(each.u_ev, each.limit_ev * budget.RECTANGULAR)
        for each, weight in zip(found, weights, strict=True)
    )
    bases = list(dict.fromkeys(each.basis for each in found if each.basis))
    basis = bases[0] if len(bases) == 1 else f"corrected at {len(bases)} levels" if bases else ""
    return budget.stated(Source.METER_LINEARITY, u, basis)


def setting_rows(mode: str, *, t_stop: bool) -> list[BudgetRow]:
    """Return the rows of aperture (unless a T-stop is stated) and card (incident modes)."""
    rows = []
    if not t_stop:
        rows.append(
            budget.bounded(
                Source.APERTURE_MARK, standards.APERTURE_MARK_EV, "iris against its mark"
            )
        )
    if modes.receptor(mode) != "spot":
        rows.append(
            budget.bounded(
                Source.CARD_REFLECTANCE,
                standards.CARD_REFLECTANCE_EV,
                "a card sold as 18 %: 17 to 19 %",
            )
        )
    return rows
