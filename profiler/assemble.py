"""Fitted labels turned into the results of a profile."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from datetime import UTC, datetime

import numpy as np

from profiler import __version__, levels, series, standards
from profiler.exposure import modes
from profiler.exposure.focal_plane import metered_focal_plane_exposure_lx_s
from profiler.fitting import budget
from profiler.fitting.labels import LabelFit, SeriesFit
from profiler.fitting.noise import Transfer, floor_signal_dn, photon_transfer
from profiler.fitting.offset import (
    Headroom,
    exposure_index,
    find_headroom,
    offset_ev,
    saturation_speed,
)
from profiler.levels import Group
from profiler.records import Estimate, Flag, FrameMeasure, Measurement, Meter
from profiler.results import (
    BudgetRow,
    CameraIdentity,
    Channel,
    Footroom,
    LensIdentity,
    MeterIdentity,
    Provenance,
    Result,
    ResultFrame,
    SourceFrame,
    Span,
    TimeRule,
)
from profiler.series import Exposure

SNR_LIMITS = (1.0, 10.0, 40.0)


def result(
    group: Group,
    fit: LabelFit,
    fitted: SeriesFit,
    *,
    light: str,
    aim_stops: float,
    meter: Meter,
) -> Result:
    """Return the result of one ISO label in one mode: numbers, budget, frames, flags."""
    headroom = find_headroom(fit)
    transfers = noise(group, fit)
    rows = budget_rows(group, fit, fitted, headroom, meter)
    u, dof = budget.combine(rows)
    value = float(headroom.headroom_ev[headroom.first])
    offset = budget.expand(offset_ev(value, aim_stops), u, dof, lower_bound=headroom.lower_bound)
    clip = budget.expand(value, u, dof, lower_bound=headroom.lower_bound)
    h = metered_focal_plane_exposure_lx_s(
        group.mode, meter, float(group.iso), standards.GREY_REFLECTANCE.value
    )
    footroom = find_footroom(fit, transfers, rows)
    return Result(
        iso=group.iso,
        mode=group.mode,
        light=light,
        aim_stops=aim_stops,
        aperture_band=f_number_span(group),
        offset_ev=offset,
        exposure_index=_span(offset, lambda ev: exposure_index(group.iso, ev)),
        saturation_speed=_span(clip, lambda ev: saturation_speed(h, ev)),
        clip_headroom_ev=clip,
        linear_headroom_ev=linear_headroom(fit, headroom, u, dof),
        footroom_ev=footroom,
        first_to_clip=headroom.name,
        channels=channels(fit, headroom, transfers),
        budget=rows,
        effective_dof=None if math.isinf(dof) else dof,
        frame_scatter_ev=fit.response.scatter_ev,
        time_rule=TimeRule(
            used=fitted.rule,  # type: ignore[arg-type]
            rms_exact_ev=fitted.rms_ev["exact"],
            rms_as_marked_ev=fitted.rms_ev["as-marked"],
        ),
        black_source=fit.black.source,
        black_candidates_dn={
            name: dict(zip(fit.channels, (float(v) for v in level), strict=True))
            for name, level in fit.black.candidates.items()
        },
        frames=frames(group, fit),
        flags=flags(group, fit, fitted, headroom, transfers, meter),
    )


def f_number_span(group: Group) -> tuple[float, float]:
    """Return the widest and narrowest marked aperture of a group (T-stop where no mark is known)."""
    f_numbers = [e.f_number or e.t_stop or 0.0 for e in group.exposures]
    return min(f_numbers), max(f_numbers)


def budget_rows(
    group: Group, fit: LabelFit, fitted: SeriesFit, headroom: Headroom, meter: Meter
) -> tuple[BudgetRow, ...]:
    """Return the sources of uncertainty of headroom and offset, which share them all."""
    k = headroom.first
    response = fit.response
    rows = [
        budget.stated(
            "fit scatter",
            float(headroom.scatter_u_ev[k]),
            f"{int(response.kept.sum())} frames, scatter {response.scatter_ev:.3f} EV each",
            dof=max(response.scatter_dof, 2.0),
        ),
        budget.stated("black", float(headroom.black_u_ev[k]), fit.black.source),
        budget.stated("clip", float(headroom.clip_u_ev[k]), "width of the pile-up of codes"),
        budget.bounded(
            "meter repeatability",
            meter.repeatability_ev,
            f"+-{meter.repeatability_ev:g} EV (common practice, no source, unless stated)",
        ),
        budget.bounded(
            "meter resolution",
            0.5 * meter.resolution_ev,
            f"display step {meter.resolution_ev:g} EV",
        ),
    ]
    drift = max(series.drift_ev(e, group.mode, meter) for e in group.exposures)
    if drift > 0.0:
        rows.append(budget.bounded("light drift", 0.5 * drift, "readings before and after"))
    if any(e.t_stop is None for e in group.exposures):
        rows.append(
            budget.bounded("aperture mark", standards.APERTURE_MARK_EV, "iris against its mark")
        )
    if modes.receptor(group.mode) != "spot":
        rows.append(
            budget.bounded(
                "card reflectance", standards.CARD_REFLECTANCE_EV, "a card sold as 18 %: 17 to 19 %"
            )
        )
    change = time_rule_change_ev(fit, fitted, headroom)
    rows.append(
        budget.stated(
            "time rule",
            change * math.sqrt(fitted.doubt),
            f"exact or marked times, wrong one with probability {fitted.doubt:.2g}",
        )
    )
    gradient = levels.gradient_ev(group)
    rows.append(budget.bounded("patch gradient", 0.25 * gradient, "light across the patch"))
    return tuple(row for row in rows if row.contribution_ev > 0.0)


def time_rule_change_ev(fit: LabelFit, fitted: SeriesFit, headroom: Headroom) -> float:
    """Return how much the headroom would change under the other time rule, in EV."""
    other = next(label for label in fitted.other if label.iso == fit.iso)
    k = headroom.first
    return abs(float(find_headroom(other).headroom_ev[k] - headroom.headroom_ev[k]))


def noise(group: Group, fit: LabelFit) -> dict[str, Transfer]:
    """Return channel -> photon transfer; from pairs, else from single frames as an upper bound."""
    out = {}
    for k, name in enumerate(fit.channels):
        black = float(fit.response.black_dn[k])
        span = fit.clip[k].level_dn - black
        lit = [frame.channels[name] for frame in group.frames]
        dark = [frame.channels[name] for frame in group.darks]
        # a pair speaks once, though both its frames carry the figure
        paired = {
            (f.channels[name].temporal_variance_dn2, f.channels[name].pair_n): f.channels[name]
            for f in (*group.frames, *group.darks)
            if f.channels[name].temporal_variance_dn2 is not None
        }
        if len(paired) >= 3:
            cells = list(paired.values())
            variance = [float(c.temporal_variance_dn2 or 0.0) for c in cells]
            count = [float(c.pair_n) for c in cells]
        else:
            cells = [c for c in (*lit, *dark) if c.n > 1]
            variance = [c.neighbour_variance_dn2 for c in cells]
            count = [float(c.n) for c in cells]
        transfer = photon_transfer(
            np.array([c.mean_dn - black for c in cells]),
            np.array(variance),
            np.array(count),
            span,
            from_pairs=len(paired) >= 3,
        )
        if transfer is not None:
            out[name] = transfer
    return out


def find_footroom(
    fit: LabelFit, transfers: Mapping[str, Transfer], rows: tuple[BudgetRow, ...]
) -> Footroom | None:
    """Return stops down to the floor of the channel that reaches it first, None without noise."""
    if not transfers:
        return None
    u_line = math.hypot(*(row.contribution_ev for row in rows if row.source != "clip"))
    best: tuple[float, str, list[Estimate]] | None = None
    for k, name in enumerate(fit.channels):
        if name not in transfers:
            continue
        estimates = []
        for snr in SNR_LIMITS:
            signal, u = floor_signal_dn(transfers[name], snr)
            value = math.log2(float(fit.response.metered_dn[k]) / signal)
            estimates.append(
                budget.expand(value, math.hypot(u_line, u / (signal * math.log(2.0))), math.inf)
            )
        if best is None or estimates[1].value < best[0]:
            best = (estimates[1].value, name, estimates)
    if best is None:
        return None
    _, name, (one, ten, forty) = best
    return Footroom(snr1=one, snr10=ten, snr40=forty, channel=name)


def linear_headroom(fit: LabelFit, headroom: Headroom, u: float, dof: float) -> Estimate:
    """Return stops up to the end of the straight line; a lower bound where no bend was seen."""
    value = float(headroom.headroom_ev[headroom.first])
    if fit.bend.found:
        return budget.expand(value + math.log2(fit.bend.limit), math.hypot(u, 0.03), dof)
    checked = min(max(fit.bend.checked, 1e-6), 1.0)
    return budget.expand(value + math.log2(checked), u, dof, lower_bound=True)


def channels(
    fit: LabelFit, headroom: Headroom, transfers: Mapping[str, Transfer]
) -> dict[str, Channel]:
    """Return what each channel does."""
    c = len(fit.channels)
    black_u = np.sqrt(np.diag(fit.response.covariance)[:c])
    metered_u = np.sqrt(np.diag(fit.response.covariance)[c:])
    out = {}
    for k, name in enumerate(fit.channels):
        transfer = transfers.get(name)
        span = fit.clip[k].level_dn - float(fit.response.black_dn[k])
        out[name] = Channel(
            black_dn=float(fit.response.black_dn[k]),
            black_u_dn=float(black_u[k]),
            clip_dn=fit.clip[k].level_dn,
            clip_u_dn=fit.clip[k].u_dn,
            clip_seen=fit.clip[k].seen,
            metered_dn=float(fit.response.metered_dn[k]),
            metered_u_ev=float(metered_u[k]),
            headroom_ev=float(headroom.headroom_ev[k]),
            headroom_u_ev=float(headroom.u_ev[k]),
            gain_e_per_dn=transfer.gain_e_per_dn if transfer else None,
            gain_u_e_per_dn=transfer.gain_u_e_per_dn if transfer else None,
            read_noise_e=transfer.read_noise_e if transfer else None,
            read_noise_u_e=transfer.read_noise_u_e if transfer else None,
            read_noise_dn=transfer.read_noise_dn if transfer else None,
            full_well_e=span * transfer.gain_e_per_dn if transfer and fit.clip[k].seen else None,
        )
    return out


def frames(group: Group, fit: LabelFit) -> tuple[ResultFrame, ...]:
    """Return how each frame fared."""
    out = []
    for i, (frame, exposure) in enumerate(zip(group.frames, group.exposures, strict=True)):
        deviation = float(fit.response.deviation_ev[i])
        slip = i in fit.response.slips
        out.append(
            ResultFrame(
                file=frame.file,
                time_s=exposure.time_s,
                aperture=exposure.f_number if exposure.t_stop is None else exposure.t_stop,
                placement_ev=float(fit.placement_ev[i]),
                residual_ev=None if math.isnan(deviation) else deviation,
                used=bool(fit.response.kept[i]) and not math.isnan(deviation),
                level_dn={name: frame.channels[name].mean_dn for name in fit.channels},
                flags=(("slip",) if slip else ()) + tuple(flag.name for flag in frame.flags),
            )
        )
    return tuple(out)


def flags(
    group: Group,
    fit: LabelFit,
    fitted: SeriesFit,
    headroom: Headroom,
    transfers: Mapping[str, Transfer],
    meter: Meter,
) -> tuple[Flag, ...]:
    """Return every doubt about the result."""
    out = list(fit.flags)
    value = float(headroom.headroom_ev[headroom.first])
    if headroom.lower_bound:
        out.append(Flag(name="clip-not-seen", size=value, where=headroom.name))
    if any(end.seen and end.bell for end in fit.clip):
        wide = max(end.u_dn for end in fit.clip if end.seen)
        out.append(Flag(name="clip-smeared", size=wide, unit="DN"))
    if fit.bend.found:
        out.append(Flag(name="bends-before-clip", size=-math.log2(fit.bend.limit)))
    for i in fit.response.slips:
        deviation = float(fit.response.deviation_ev[i])
        out.append(Flag(name="slip", size=deviation, where=group.frames[i].file))
    kept = int(fit.response.kept.sum())
    if kept < standards.FEW_FRAMES:
        out.append(Flag(name="few-frames", size=float(kept), unit="frames"))
    drift = max(series.drift_ev(e, group.mode, meter) for e in group.exposures)
    if drift > standards.LIGHT_DRIFT_EV:
        out.append(Flag(name="light-drift", size=drift))
    widest, narrowest = f_number_span(group)
    if widest < standards.NARROW_F_NUMBER <= narrowest:
        out.append(Flag(name="mixed-apertures", size=2.0 * math.log2(narrowest / widest)))
    gradient = levels.gradient_ev(group)
    if gradient > standards.UNEVEN_PATCH_EV:
        out.append(Flag(name="uneven-patch", size=gradient))
    if fit.response.scatter_ev > standards.UNEVEN_EXPOSURES_EV:
        out.append(Flag(name="uneven-exposures", size=fit.response.scatter_ev))
    if fitted.doubt > standards.TIME_RULE_UNSURE:
        change = time_rule_change_ev(fit, fitted, headroom)
        out.append(Flag(name="time-rule-unsure", size=change))
    if transfers and not all(t.from_pairs for t in transfers.values()):
        noisiest = max(t.read_noise_e for t in transfers.values())
        out.append(Flag(name="noise-upper-bound", size=noisiest, unit="e-"))
    if any(t.quantised for t in transfers.values()):
        least = min(t.dark_variance_dn2 for t in transfers.values())
        out.append(Flag(name="quantised-dark", size=math.sqrt(least), unit="DN"))
    for frame in group.frames:
        out += [flag for flag in frame.flags if flag.name not in {f.name for f in out}]
    return tuple(out)


def camera(frames: Sequence[FrameMeasure]) -> CameraIdentity:
    """Return the body as its files name it."""
    return CameraIdentity(
        make=_first(frames, "make"), model=_first(frames, "model"), serial=_first(frames, "serial")
    )


def lens(frames: Sequence[FrameMeasure]) -> LensIdentity:
    """Return the lens as the files name it."""
    return LensIdentity(model=_first(frames, "lens"))


def meter_identity(meter: Meter) -> MeterIdentity:
    """Return the meter with the figures it was used by."""
    return MeterIdentity(**asdict(meter))


def provenance(
    measurement: Measurement, exposures: Sequence[Exposure], sheet_name: str
) -> Provenance:
    """Return software, time, files and readings that a profile rests on."""
    readings: dict[str, tuple[str, ...]] = {}
    for exposure in exposures:
        for mode, texts in exposure.texts.items():
            known = readings.get(mode, ())
            readings[mode] = known + tuple(t for t in dict.fromkeys(texts) if t not in known)
    return Provenance(
        software=f"greytare {__version__}",
        created=datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        frames=tuple(SourceFrame(file=f.file, sha256=f.sha256) for f in measurement.frames),
        patch=measurement.patch,
        sheet=sheet_name,
        readings=readings,
    )


def _first(frames: Sequence[FrameMeasure], field: str) -> str:
    for frame in frames:
        tag = getattr(frame.tags, field)
        if tag is not None:
            return str(tag.value)
    return ""


def _span(estimate: Estimate, function: Callable[[float], float]) -> Span:
    """A monotonic function of an estimate, with its interval."""
    ends = sorted((function(estimate.low), function(estimate.high)))
    return Span(
        value=function(estimate.value),
        low=ends[0],
        high=ends[1],
        lower_bound=estimate.lower_bound,
    )
