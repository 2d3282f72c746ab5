"""What the labels and modes of one series tell of each other."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from profiler import standards
from profiler.calibration.assemble.case import Case
from profiler.calibration.fit import budget
from profiler.calibration.fit.iso import LabelNoise, label_steps
from profiler.exposure import modes
from profiler.exposure.light import metered_focal_plane_exposure_lx_s
from profiler.records import Flag, Meter
from profiler.results import METER_SOURCES, IsoRow, ModeRow, Result, ShutterRow, Source


def shutter_table(cases: Sequence[Case]) -> tuple[ShutterRow, ...]:
    """Return the mean frame error of each marked time, over repeats and labels.

    Each label's own level is taken off, so only differences between times tell.
    """
    by_time: dict[float, list[float]] = {}
    scatter = 0.0
    for case in cases:
        scatter = case.fit.response.scatter_ev
        response = case.fit.response
        for i, exposure in enumerate(case.group.exposures):
            deviation = float(response.deviation_ev[i])
            if exposure.time_s is not None and response.kept[i] and math.isfinite(deviation):
                by_time.setdefault(exposure.time_s, []).append(deviation)
    return tuple(
        ShutterRow(
            time_s=time_s,
            deviation_ev=float(np.mean(values)),
            u_ev=scatter / math.sqrt(len(values)),
            frames=len(values),
        )
        for time_s, values in sorted(by_time.items())
    )


def iso_table(cases: Sequence[Case]) -> tuple[IsoRow, ...]:
    """Return each ISO label against the next lower one."""
    labels = []
    for case in cases:
        k = case.headroom.first
        name = case.fit.channels[k]
        transfer = case.transfers.get(name)
        paired = transfer if transfer is not None and transfer.from_pairs else None
        periods = [f.channels[name].gap_period for f in case.group.frames]
        labels.append(
            LabelNoise(
                iso=case.group.iso,
                metered_dn=float(case.fit.response.metered_dn[k]),
                metered_u_ev=float(case.headroom.scatter_u_ev[k]),
                span_dn=case.fit.clip[k].level_dn - float(case.fit.response.black_dn[k]),
                clip_seen=case.fit.clip[k].seen,
                gain_e_per_dn=paired.gain_e_per_dn if paired else None,
                gain_u=paired.gain_u_e_per_dn if paired else None,
                read_noise_e=paired.read_noise_e if paired else None,
                read_noise_u=paired.read_noise_u_e if paired else None,
                gap_period=max(periods, default=1),
            )
        )
    return tuple(label_steps(labels))


def with_mode_doubts(results: Sequence[Result], rows: Sequence[ModeRow]) -> tuple[Result, ...]:
    """Return the results, flagged where two modes on one card disagree beyond their constants.

    A difference of whole stops beside one offset that is odd by itself is a second clue to an ISO
    left on the meter.
    """
    out = []
    for result in results:
        doubts = []
        for row in rows:
            apart = abs(row.left_ev) > standards.MODES_DISAGREE_SIGMAS * row.u_ev
            if row.iso != result.iso or result.mode not in (row.mode, row.against) or not apart:
                continue
            other = row.against if result.mode == row.mode else row.mode
            stops = round(row.left_ev)
            odd = abs(result.offset_ev.value) > standards.UNUSUAL_OFFSET_EV
            whole = stops != 0 and abs(row.left_ev - stops) < 2.0 * row.u_ev
            guess = ": was the meter left at another ISO?" if whole and odd else ""
            doubts.append(
                Flag(name="modes-disagree", size=abs(row.left_ev), detail=f"from {other}{guess}")
            )
        out.append(replace(result, flags=result.flags + tuple(doubts)))
    return tuple(out)


def mode_table(results: Sequence[Result], meter: Meter) -> tuple[ModeRow, ...]:
    """Return the difference of offsets of each two modes at each ISO label.

    expected: log2 of the focal-plane exposures that the constants ask for, on an 18 % card
    (H = qK/S for spot, q R C/(pi S) for incident readings).
    """
    out = []
    for a, b in itertools.combinations(results, 2):
        if a.iso != b.iso or a.mode == b.mode or modes.is_flash(a.mode) != modes.is_flash(b.mode):
            continue
        h_a, h_b = (
            metered_focal_plane_exposure_lx_s(
                mode, meter, float(a.iso), standards.GREY_REFLECTANCE.value
            )
            for mode in (a.mode, b.mode)
        )
        expected = math.log2(h_b / h_a)
        gap = a.offset_ev.value - b.offset_ev.value
        rows = [row for r in (a, b) for row in r.budget if row.source in METER_SOURCES]
        if (modes.receptor(a.mode) == "spot") != (modes.receptor(b.mode) == "spot"):
            rows.append(
                budget.bounded(Source.CARD_REFLECTANCE, standards.CARD_REFLECTANCE_EV, "card")
            )
        u, _ = budget.combine(rows)
        out.append(
            ModeRow(
                iso=a.iso,
                mode=a.mode,
                against=b.mode,
                gap_ev=gap,
                u_ev=u,
                expected_ev=expected,
                left_ev=gap - expected,
            )
        )
    return tuple(out)
