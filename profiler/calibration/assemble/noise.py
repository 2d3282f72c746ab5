"""Photon transfer of a label's frames, with the footroom that follows."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from profiler import standards
from profiler.calibration.fit import budget
from profiler.calibration.fit.cut import before_cut, cut_share
from profiler.calibration.fit.emva import emva_figures
from profiler.calibration.fit.labels import LabelFit
from profiler.calibration.fit.noise import (
    TRANSFER_RANGE,
    NoTransfer,
    Transfer,
    floor_signal_dn,
    photon_transfer,
)
from profiler.calibration.groups import Group
from profiler.frames.dark_levels import true_level
from profiler.records import ChannelMeasure, Estimate
from profiler.results import BudgetRow, EmvaRow, Footroom, Source

SNR_LIMITS = (1.0, 10.0, 40.0)
_FEWEST_PAIRS = 3


def find_transfers(group: Group, fit: LabelFit) -> dict[str, Transfer | NoTransfer]:
    """Return channel -> photon transfer; from pairs, else from single frames as an upper bound."""
    out = {}
    for k, name in enumerate(fit.channels):
        black = float(fit.response.black_dn[k])
        points = pair_points(group, name)
        from_pairs = len(points) >= _FEWEST_PAIRS
        if not from_pairs:
            cells = [frame.channels[name] for frame in (*group.frames, *group.darks)]
            alone = [_point((c,), c.neighbour_variance_dn2, c.n) for c in cells if c.n > 1]
            points = [point for point in alone if point is not None]
        out[name] = photon_transfer(
            np.array([point.mean_dn - black for point in points]),
            np.array([point.variance_dn2 for point in points]),
            np.array([float(point.pixels) for point in points]),
            fit.clip[k].level_dn - black,
            from_pairs=from_pairs,
            part=min(TRANSFER_RANGE, 0.95 * fit.bend.begin),
        )
    return out


@dataclass(frozen=True, kw_only=True)
class Point:
    """One point of a photon transfer: mean level, black in, its noise and how many gave it."""

    mean_dn: float
    variance_dn2: float
    pixels: int


def pair_points(group: Group, name: str) -> list[Point]:
    """Return a point for each pair of a channel, at the mean of both its levels."""
    frames = (*group.frames, *group.darks)
    by_file = {frame.file: frame for frame in frames}
    points: dict[frozenset[str], Point | None] = {}
    for frame in frames:
        cell = frame.channels[name]
        if cell.temporal_variance_dn2 is None:
            continue
        partner = by_file.get(frame.pair, frame)
        points[frozenset((frame.file, partner.file))] = _point(
            (cell, partner.channels[name]), cell.temporal_variance_dn2, cell.pair_n
        )
    return [point for point in points.values() if point is not None]


def _point(cells: Sequence[ChannelMeasure], variance_dn2: float, pixels: int) -> Point | None:
    """The point of a frame or pair, None where too little is left of noise that was cut off.

    What was cut is completed in the proportion that it has to the spread of the codes seen.
    """
    levels = [true_level(cell)[0] for cell in cells]
    for cell in cells:
        if cut_share(cell) > 0.0:
            before = before_cut(cell)
            if before is None or cell.variance_dn2 <= 0.0:
                return None
            variance_dn2 *= (before.sd_dn**2 / cell.variance_dn2) ** (1.0 / len(cells))
            pixels = min(pixels, standards.CUT_PIXELS)
    return Point(mean_dn=float(np.mean(levels)), variance_dn2=variance_dn2, pixels=pixels)


def transfer_points(group: Group, name: str, black_dn: float) -> tuple[tuple[float, float], ...]:
    """Return (signal DN, temporal variance DN^2) of each pair of a channel, by rising signal."""
    points = pair_points(group, name)
    return tuple(sorted((point.mean_dn - black_dn, point.variance_dn2) for point in points))


def find_emva(group: Group, fit: LabelFit) -> dict[str, EmvaRow]:
    """Return channel -> EMVA 1288's own figures, where a dark pair and three lit pairs exist."""
    out = {}
    for k, name in enumerate(fit.channels):
        dark = pair_points(replace(group, frames=()), name)
        black = float(fit.response.black_dn[k])
        span = fit.clip[k].level_dn - black
        lit = [
            (float(np.exp2(placement)), frame.channels[name])
            for placement, frame in zip(fit.placement_ev, group.frames, strict=True)
            if frame.channels[name].temporal_variance_dn2 is not None
        ]
        signal = np.array([cell.mean_dn - black for _, cell in lit])
        enough = len(lit) >= 2 * _FEWEST_PAIRS and np.sum(signal < 0.7 * span) >= _FEWEST_PAIRS
        if not dark or not enough or np.sum((signal > 0.05 * span) & (signal < 0.95 * span)) < 3:
            continue
        figures = emva_figures(
            np.array([exposure for exposure, _ in lit]),
            signal,
            np.array([float(cell.temporal_variance_dn2 or 0.0) for _, cell in lit]),
            float(np.mean([point.variance_dn2 for point in dark])),
            span,
        )
        if figures is not None:
            out[name] = figures
    return out


def find_footroom(
    fit: LabelFit, transfers: Mapping[str, Transfer], rows: Sequence[BudgetRow]
) -> Footroom | None:
    """Return stops down to the floor of the channel that reaches it first, None without noise."""
    u_line = math.hypot(*(row.contribution_ev for row in rows if row.source != Source.CLIP))
    best: tuple[str, list[Estimate]] | None = None
    for k, name in enumerate(fit.channels):
        if name not in transfers:
            continue
        estimates = []
        for snr in SNR_LIMITS:
            signal, u = floor_signal_dn(transfers[name], snr)
            value = math.log2(float(fit.response.metered_dn[k]) / signal)
            estimates.append(
                budget.expand(
                    value,
                    math.hypot(u_line, u / (signal * math.log(2.0))),
                    math.inf,
                    lower_bound=not (transfers[name].from_pairs and transfers[name].dark_measured),
                )
            )
        if best is None or estimates[1].value < best[1][1].value:
            best = (name, estimates)
    if best is None:
        return None
    name, (one, ten, forty) = best
    return Footroom(snr1=one, snr10=ten, snr40=forty, channel=name)
