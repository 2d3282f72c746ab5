"""The flags that a result carries."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from profiler import standards
from profiler.calibration.against import largest
from profiler.calibration.assemble.case import Case
from profiler.calibration.assemble.drift import find_drift
from profiler.calibration.assemble.sources import time_rule_change_ev
from profiler.calibration.exposures import Exposure
from profiler.calibration.fit.cut import cut_share
from profiler.calibration.fit.noise import DARK_VARIANCE_FLOOR_DN2
from profiler.calibration.fit.quantiles import median
from profiler.calibration.fit.slips import Typed, propose
from profiler.exposure.modes import is_flash
from profiler.records import ChannelMeasure, Flag, FrameMeasure


def flags(case: Case) -> tuple[Flag, ...]:
    """Return every doubt about a result, each name once but slips, which name their frame."""
    found = [
        *case.fit.flags,
        *clip_flags(case),
        *frame_flags(case),
        *sheet_flags(case),
        *reading_flags(case),
        *light_flags(case),
        *coding_flags(case),
        *noise_flags(case),
    ]
    seen: set[tuple[str, str]] = set()
    out = []
    for flag in found:
        key = (flag.name, flag.where if flag.name == "slip" else flag.detail)
        if key not in seen:
            seen.add(key)
            out.append(flag)
    return tuple(out)


def clip_flags(case: Case) -> Iterator[Flag]:
    """Yield doubts about clip and the straight line."""
    clip = case.fit.clip
    if case.headroom.lower_bound:
        yield Flag(name="clip-not-seen", size=case.headroom_ev, where=case.headroom.name)
    if any(end.seen and end.bell for end in clip):
        yield Flag(name="clip-smeared", size=max(end.u_dn for end in clip if end.seen), unit="DN")
    if case.fit.bend.found:
        yield Flag(name="bends-before-clip", size=-math.log2(case.fit.bend.limit))
    elif case.fit.curvature.seen:
        yield Flag(name="curved-response", size=100.0 * case.fit.curvature.part, unit="%")
    size = case.headroom_ev - standards.AIM_ISO12232_STOPS
    if abs(size) > standards.UNUSUAL_OFFSET_EV and not case.headroom.lower_bound:
        yield Flag(name="unusual-offset", size=size)


def frame_flags(case: Case) -> Iterator[Flag]:
    """Yield doubts about single frames and their number."""
    response = case.fit.response
    for i in response.slips:
        exposure = case.group.exposures[i]
        deviation = float(response.deviation_ev[i])
        what = "this reading is" if exposure.own_reading else "this frame is"
        guess = propose(deviation, typed(exposure, case.group.mode))
        yield Flag(
            name="slip",
            size=deviation,
            where=case.group.frames[i].file,
            detail=f"{what} {abs(deviation):.1f} stop{'' if abs(deviation) < 1.05 else 's'} "
            f"off the others{': ' if guess else ''}{guess}",
        )
    kept = int(np.sum(response.kept & np.isfinite(response.deviation_ev)))
    if kept < standards.FEW_FRAMES:
        yield Flag(name="few-frames", size=float(kept), unit="frames")
    if response.scatter_ev > standards.UNEVEN_EXPOSURES_EV:
        yield Flag(name="uneven-exposures", size=response.scatter_ev)
    if case.series_fit.doubt > standards.TIME_RULE_UNSURE:
        yield Flag(name="time-rule-unsure", size=time_rule_change_ev(case))
    f_numbers = [e.f_number for e in case.group.exposures if e.f_number is not None]
    if f_numbers and min(f_numbers) < standards.NARROW_F_NUMBER <= max(f_numbers):
        yield Flag(name="mixed-apertures", size=2.0 * math.log2(max(f_numbers) / min(f_numbers)))


def typed(exposure: Exposure, mode: str) -> Typed:
    """Return what a person typed for a frame: its own reading, else the frame's settings."""
    if exposure.own_reading:
        reading = exposure.readings[mode][0]
        return Typed(
            reading=True, f_number=reading.aperture, time_s=reading.time_s, iso=reading.iso
        )
    return Typed(
        reading=False,
        f_number=exposure.f_number,
        time_s=exposure.time_s,
        iso=None if exposure.iso is None else float(exposure.iso),
    )


def sheet_flags(case: Case) -> Iterator[Flag]:
    """Yield where the sheet says something else than the files, the largest of each column."""
    counts = {"iso", "aperture", "t_stop"} | (set() if is_flash(case.group.mode) else {"time"})
    found = [each for exposure in case.group.exposures for each in exposure.against]
    for one, words in largest(each for each in found if each.column in counts):
        yield Flag(name="sheet-against-files", size=one.size_ev, detail=f"({words})")


def reading_flags(case: Case) -> Iterator[Flag]:
    """Yield doubts about the readings: a step so large that figures may not have been typed."""
    step_ev = case.reading_error.step_ev
    if case.meter.resolution_ev is None and step_ev >= standards.COARSE_STEP_EV:
        yield Flag(name="coarse-reading", size=step_ev)


def light_flags(case: Case) -> Iterator[Flag]:
    """Yield doubts about the light: drift, pulses, an uneven card."""
    drift = find_drift(case)
    if drift.beyond_meter and drift.differ_ev > standards.LIGHT_DRIFT_EV:
        yield Flag(name="light-drift", size=drift.differ_ev)
    if case.trend.seen:
        yield Flag(name="trend", size=case.trend.change_ev)
    light = case.evenness
    if light.pulsing:
        yield Flag(name="pulsing-light", size=100.0 * max(light.banding, light.change), unit="%")
    uneven = max(light.reading_ev(frame.place) for frame in case.group.frames)
    steady = abs(light.across) + abs(light.down) > light.change  # chance leaves pulses a mean slope
    if uneven > standards.UNEVEN_PATCH_EV and (steady or not light.pulsing):
        yield Flag(name="uneven-patch", size=uneven)


def coding_flags(case: Case) -> Iterator[Flag]:
    """Yield doubts about the codes: gaps, smoothing, what decoding noticed."""
    wide = [max(c.gap_period, c.code_step) for c in unclipped(case.group.frames)]
    periods = [period for period in wide if period > 1]
    if periods:
        yield Flag(name="code-gaps", size=median(periods), unit="codes")
    ratio = smoothing(case)
    if ratio is not None and ratio < standards.SMOOTHED_RATIO:
        yield Flag(name="smoothed-raw", size=ratio, unit="of the noise")
    for frame in case.group.frames:
        yield from frame.flags


def smoothing(case: Case) -> float | None:
    """Return neighbour over temporal variance: 1 or more on a clean sensor, None without pairs.

    Dark pairs where there are any: no light can pulse there.
    """
    for frames in (case.group.darks, case.group.frames):
        ratios = [
            c.neighbour_variance_dn2 / c.temporal_variance_dn2
            for frame in frames
            for c in frame.channels.values()
            if c.temporal_variance_dn2 is not None
            and c.temporal_variance_dn2 > DARK_VARIANCE_FLOOR_DN2
            and c.top_share < 0.5
        ]
        if ratios:
            return median(ratios)
    return None


def cut_flags(case: Case) -> Iterator[Flag]:
    """Yield the doubt about dark noise that was cut off at the lowest code."""
    group = case.group
    shares = [cut_share(c) for d in group.darks for c in d.channels.values()]
    shares += [m.cut_share for f in group.frames for m in f.masked.values()]
    if any(share > 0.0 for share in shares):
        yield Flag(name="dark-cut", size=100.0 * max(shares), unit="% of the pixels")


def noise_flags(case: Case) -> Iterator[Flag]:
    """Yield doubts about noise figures, and why figures are missing."""
    yield from cut_flags(case)
    transfers = case.transfers
    single = [t.read_noise_e for t in transfers.values() if not t.from_pairs]
    bounds = [noise for noise in single if noise is not None]
    if bounds:
        yield Flag(name="noise-upper-bound", size=max(bounds), unit="e-")
    if any(t.quantised for t in transfers.values()):
        yield Flag(name="quantised-dark", size=math.sqrt(DARK_VARIANCE_FLOOR_DN2), unit="DN")
    reasons = {
        name: f"the dark variance is {t.dark_variance_dn2:.2g} ± {2.0 * t.dark_variance_u:.2g} DN²"
        for name, t in transfers.items()
        if t.read_noise_e is None
    } | dict(case.no_transfer)
    if reasons:
        name = next(channel for channel in case.fit.channels if channel in reasons)
        yield Flag(
            name="noise-not-measured",
            size=float(len(reasons)),
            unit="channel" if len(reasons) == 1 else "channels",
            detail=f"({name}: {reasons[name]})",
        )


def unclipped(frames: Sequence[FrameMeasure]) -> list[ChannelMeasure]:
    """Return the lit, unclipped channels of frames, bright enough to show what the light does."""
    highest = max((c.top_dn for f in frames for c in f.channels.values()), default=0.0)
    return [
        c
        for f in frames
        for c in f.channels.values()
        if c.top_share < 0.05 and c.high_edge_dn < 0.98 * highest and c.n > 1
    ]
