"""Levels near black: a cut of their noise undone, and every source of black."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from profiler import standards
from profiler.calibration.fit.black import mean_of
from profiler.calibration.fit.cut import before_cut, cut_share
from profiler.calibration.fit.quantiles import quantile_rows
from profiler.records import ChannelMeasure, FrameMeasure, Masked

if TYPE_CHECKING:
    from numpy.typing import NDArray

Sources = dict[str, tuple["NDArray[np.float64]", "NDArray[np.float64]"]]
"""Name of a source of black -> level (c,), standard uncertainty (c,), in DN."""


def true_level(cell: ChannelMeasure) -> tuple[float, float]:
    """Return the mean level of a patch with its uncertainty, in DN; a cut of its noise is undone.

    Infinitely uncertain where the cut left too little of it.
    """
    if cut_share(cell) == 0.0:
        return cell.mean_dn, math.sqrt(cell.variance_dn2 / max(cell.n, 1))
    before = before_cut(cell)
    return (cell.mean_dn, math.inf) if before is None else (before.mean_dn, before.u_dn)


def black_candidates(
    frames: Sequence[FrameMeasure], darks: Sequence[FrameMeasure], channels: Sequence[str]
) -> Sources:
    """Return every source of black that spoke; one of which a cut left too little is silent."""
    found = {
        "dark frames": _of_darks(darks, channels),
        "masked pixels": _of_masked([frame.masked for frame in frames], channels),
        "tag": _of_tags(frames, channels),
    }
    return {name: source for name, source in found.items() if source is not None}


def _of_darks(
    darks: Sequence[FrameMeasure], channels: Sequence[str]
) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    if not darks:
        return None
    cells = [[frame.channels[name] for name in channels] for frame in darks]
    levels = np.array([[true_level(cell) for cell in row] for row in cells])
    if not np.isfinite(levels).all():
        return None
    level, u = mean_of(list(levels[:, :, 0]), list(levels[:, :, 1]), standards.DARK_U_DN)
    cut = np.array([[cut_share(cell) > 0.0 for cell in row] for row in cells])
    common = np.max(np.where(cut, levels[:, :, 1], 0.0), axis=0)  # the same in all frames
    return level, np.hypot(u, common)


def _of_masked(
    masked: Sequence[Mapping[str, Masked]], channels: Sequence[str]
) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    rows = [[each[name] for name in channels] for each in masked if set(channels) <= set(each)]
    rows = [row for row in rows if all(m.cut_share <= standards.CUT_MOST_SHARE for m in row)]
    if not rows:
        return None
    level = quantile_rows(np.array([[m.mean_dn for m in row] for row in rows]), 0.5)
    noise = np.array([[m.sd_dn if m.cut_share > 0.0 else 0.0 for m in row] for row in rows])
    return level, np.hypot(standards.MASKED_U_DN, standards.CUT_U_PART * noise.max(axis=0))


def _of_tags(
    frames: Sequence[FrameMeasure], channels: Sequence[str]
) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    tags = [frame.black_tag_dn for frame in frames if set(channels) <= set(frame.black_tag_dn)]
    if not tags:
        return None
    level = quantile_rows(np.array([[tag[name] for name in channels] for tag in tags]), 0.5)
    return level, np.full(len(channels), standards.TAG_U_DN)
