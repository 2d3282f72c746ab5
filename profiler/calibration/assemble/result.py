"""Fitted labels turned into the results of a profile."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from profiler import standards
from profiler.calibration.assemble.absolute import find_saturation_speed
from profiler.calibration.assemble.case import Case
from profiler.calibration.assemble.flags import flags
from profiler.calibration.assemble.noise import find_emva, find_footroom, transfer_points
from profiler.calibration.assemble.sources import budget_rows
from profiler.calibration.fit import budget
from profiler.calibration.fit.montecarlo import interval
from profiler.calibration.fit.noise import Transfer
from profiler.calibration.fit.offset import exposure_index, offset_ev
from profiler.calibration.groups import Group
from profiler.errors import MeasureError
from profiler.exposure.stops import SAME_MARK
from profiler.records import Estimate, moved
from profiler.results import (
    AtAperture,
    BudgetRow,
    Channel,
    NoiseProfile,
    Result,
    ResultFrame,
    Source,
    Span,
    TimeRule,
)


def result(case: Case, *, light: str, aim_stops: float) -> Result:
    """Return the result of one ISO label in one mode: numbers, budget, frames, flags."""
    group, fit = case.group, case.fit
    rows = budget_rows(case)
    u, dof = budget.combine(rows)
    bound = case.headroom.lower_bound
    clip, checked = interval(case.headroom_ev, rows, lower_bound=bound)
    offset = moved(clip, offset_ev(0.0, aim_stops))
    speed, speed_rows = find_saturation_speed(case, clip, rows)
    return Result(
        iso=group.iso,
        mode=group.mode,
        light=light,
        aim_stops=aim_stops,
        aperture_band=f_number_span(group),
        offset_ev=offset,
        exposure_index=_span(offset, lambda ev: exposure_index(group.iso, ev)),
        saturation_speed=speed,
        saturation_budget=speed_rows,
        measured_by_t_stop=case.by_t_stop,
        at_measured_aperture=at_measured_aperture(case, rows, aim_stops),
        clip_headroom_ev=clip,
        linear_headroom_ev=linear_headroom(case, u, dof),
        footroom_ev=find_footroom(fit, case.transfers, rows),
        first_to_clip=case.headroom.name,
        channels=channels(case),
        budget=rows,
        effective_dof=None if math.isinf(dof) else dof,
        offset_headroom_correlation=1.0,
        frame_scatter_ev=fit.response.shown_scatter_ev,
        time_rule=TimeRule(
            used=case.series_fit.rule,  # type: ignore[arg-type]
            rms_exact_ev=case.series_fit.rms_ev["exact"],
            rms_as_marked_ev=case.series_fit.rms_ev["as-marked"],
        ),
        black_source=fit.black.source,
        black_candidates_dn={
            name: dict(zip(fit.channels, (float(v) for v in level), strict=True))
            for name, level in fit.black.candidates.items()
        },
        frames=frames(case),
        flags=flags(case) + checked,
    )


def at_measured_aperture(
    case: Case, rows: tuple[BudgetRow, ...], aim_stops: float
) -> AtAperture | None:
    """Return the same with the iris where it stood for all frames; None where it stood elsewhere.

    What it lets in beside its mark is inside the measured levels, so its row drops out.
    """
    widest, narrowest = f_number_span(case.group)
    kept = tuple(row for row in rows if row.source != Source.APERTURE_MARK)
    if len(kept) == len(rows) or not math.isclose(widest, narrowest, rel_tol=SAME_MARK):
        return None
    clip, _ = interval(case.headroom_ev, kept, lower_bound=case.headroom.lower_bound)
    offset = moved(clip, offset_ev(0.0, aim_stops))
    _, dof = budget.combine(kept)
    return AtAperture(
        aperture=widest,
        offset_ev=offset,
        exposure_index=_span(offset, lambda ev: exposure_index(case.group.iso, ev)),
        clip_headroom_ev=clip,
        effective_dof=None if math.isinf(dof) else dof,
    )


def f_number_span(group: Group) -> tuple[float, float]:
    """Return the widest and narrowest aperture of a group, as marked, else the T-stop."""
    f_numbers = [e.f_number or e.t_stop or 0.0 for e in group.exposures]
    return min(f_numbers), max(f_numbers)


def linear_headroom(case: Case, u: float, dof: float) -> Estimate:
    """Return stops up to the end of the straight line; a lower bound where no bend was seen."""
    bend = case.fit.bend
    if bend.found:
        value = case.headroom_ev + math.log2(bend.limit)
        return budget.expand(value, math.hypot(u, standards.BEND_U_EV), dof)
    checked = min(max(bend.checked, 1e-6), 1.0)
    return budget.expand(case.headroom_ev + math.log2(checked), u, dof, lower_bound=True)


def channels(case: Case) -> dict[str, Channel]:
    """Return what each channel does."""
    fit, headroom = case.fit, case.headroom
    c = len(fit.channels)
    metered_u = np.sqrt(np.diag(fit.response.covariance)[c:])
    standard = find_emva(case.group, fit)
    out = {}
    for k, name in enumerate(fit.channels):
        transfer = case.transfers.get(name)
        clip = fit.clip[k]
        span = clip.level_dn - float(fit.response.black_dn[k])
        out[name] = Channel(
            black_dn=float(fit.response.black_dn[k]),
            black_u_dn=float(fit.black.u_dn[k]),
            clip_dn=clip.level_dn,
            clip_u_dn=clip.u_dn,
            clip_seen=clip.seen,
            metered_dn=float(fit.response.metered_dn[k]),
            metered_u_ev=float(metered_u[k]),
            headroom_ev=float(headroom.headroom_ev[k]),
            headroom_u_ev=float(headroom.u_ev[k]),
            gain_e_per_dn=transfer.gain_e_per_dn if transfer else None,
            gain_u_e_per_dn=transfer.gain_u_e_per_dn if transfer else None,
            read_noise_e=transfer.read_noise_e if transfer else None,
            read_noise_u_e=transfer.read_noise_u_e if transfer else None,
            read_noise_dn=transfer.read_noise_dn if transfer else None,
            full_well_e=span * transfer.gain_e_per_dn if transfer and clip.seen else None,
            dynamic_range_ev=transfer.dynamic_range_ev(span)
            if transfer and transfer.read_noise_dn is not None and clip.seen
            else None,
            noise_profile=noise_profile(transfer, span) if transfer and clip.seen else None,
            emva=standard.get(name),
            transfer_points=transfer_points(case.group, name, float(fit.response.black_dn[k])),
        )
    return out


def noise_profile(transfer: Transfer, span_dn: float) -> NoiseProfile | None:
    """Return the DNG NoiseProfile pair, variances as parts of the span: K/span, sigma^2/span^2."""
    if transfer.read_noise_dn is None:
        return None
    return NoiseProfile(
        scale=transfer.slope_dn_per_e / span_dn, offset=(transfer.read_noise_dn / span_dn) ** 2
    )


def frames(case: Case) -> tuple[ResultFrame, ...]:
    """Return how each frame fared."""
    response = case.fit.response
    out = []
    for i, (frame, exposure) in enumerate(
        zip(case.group.frames, case.group.exposures, strict=True)
    ):
        deviation = float(response.deviation_ev[i])
        slip = i in response.slips
        out.append(
            ResultFrame(
                file=frame.file,
                time_s=exposure.time_s,
                aperture=exposure.f_number if exposure.t_stop is None else exposure.t_stop,
                placement_ev=float(case.fit.placement_ev[i]),
                residual_ev=None if math.isnan(deviation) else deviation,
                used=bool(response.kept[i]) and not math.isnan(deviation),
                level_dn={name: frame.channels[name].mean_dn for name in case.fit.channels},
                flags=(("slip",) if slip else ()) + tuple(flag.name for flag in frame.flags),
            )
        )
    return tuple(out)


def _span(estimate: Estimate, function: Callable[[float], float]) -> Span:
    """A monotonic function of an estimate, with its interval."""
    ends = sorted((function(estimate.low), function(estimate.high)))
    return Span(
        value=function(estimate.value),
        low=ends[0],
        high=ends[1],
        lower_bound=estimate.lower_bound,
    )


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
