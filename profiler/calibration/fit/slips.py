"""Frames too far off the line to be scatter, with what may have happened to them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from profiler import standards
from profiler.calibration.fit.quantiles import MAD_TO_SD, median
from profiler.calibration.fit.student import t_quantile
from profiler.exposure.stops import nearest_f_mark, nearest_iso_mark, nearest_time_mark

if TYPE_CHECKING:
    from numpy.typing import NDArray

_TAIL = 5e-5  # of one frame that is no slip
_SUSPECT_SIGMAS = 3.5  # beyond this a frame doesn't help to judge the others


def find_slips(
    deviation_ev: Sequence[NDArray[np.float64]],
    noise_u_ev: Sequence[NDArray[np.float64]],
    kept: Sequence[NDArray[np.bool_]],
) -> list[tuple[int, ...]]:
    """Return the indices of the slips of each ISO label; one array (n,) per label and argument.

    Deviations count from the median of their label. A median-based scale over all labels finds
    suspects, so that two slips can't hide each other; the scatter of the others, by least
    squares, then decides which suspects are slips.
    """
    masks = [m & np.isfinite(d) for m, d in zip(kept, deviation_ev, strict=True)]
    off = [
        d - median(d[m]) if m.any() else np.zeros(d.shape)
        for d, m in zip(deviation_ev, masks, strict=True)
    ]
    prior, prior_dof = standards.SHUTTER_SCATTER_EV, standards.SLIP_PRIOR_DOF
    precise = [m & (u < prior) for m, u in zip(masks, noise_u_ev, strict=True)]
    pooled = np.concatenate([np.abs(d[m]) for d, m in zip(off, precise, strict=True)])
    # the median has taken one frame's freedom from every label
    fewer = sum(1 for m in precise if m.any())
    free = max(pooled.size - fewer, 1)
    mad = MAD_TO_SD * median(pooled) * pooled.size / free if pooled.size else prior
    scale = math.sqrt((prior_dof * prior**2 + free * mad**2) / (prior_dof + free))
    suspect = [
        m & (np.abs(d) > _SUSPECT_SIGMAS * np.hypot(scale, u))
        for m, d, u in zip(masks, off, noise_u_ev, strict=True)
    ]
    calm = [
        d[p & ~s] - d[p & ~s].mean()
        for d, p, s in zip(off, precise, suspect, strict=True)
        if (p & ~s).any()
    ]
    dof = max(sum(c.size - 1 for c in calm) + prior_dof, 2.0)
    total = sum(float(np.sum(c**2)) for c in calm)
    sigma = math.sqrt((prior_dof * prior**2 + total) / dof)
    factor = t_quantile(1.0 - _TAIL, dof)
    out = []
    for d, u, m, s in zip(off, noise_u_ev, masks, suspect, strict=True):
        beyond = np.abs(d) / np.maximum(standards.SLIP_EV, factor * np.hypot(sigma, u))
        worst = np.argsort(-np.where(s, beyond, 0.0))[: allowed(int(m.sum()))]
        out.append(tuple(sorted(int(i) for i in worst if s[i] and beyond[i] > 1.0)))
    return out


def allowed(frames: int) -> int:
    """Return how many frames of a label may be called slips: always less than half of them."""
    return min((frames - 1) // 2, max(2, frames // 4)) if frames >= 4 else 0


_NEAR_STEP_EV = 0.13  # a slip of the hand is a whole number of third stops, within this


@dataclass(frozen=True, kw_only=True)
class Typed:
    """What was typed for a frame: the reading where it is the frame's own, else its settings."""

    reading: bool
    f_number: float | None
    time_s: float | None
    iso: float | None


def propose(deviation_ev: float, typed: Typed) -> str:
    """Return guesses at what happened, as a question; empty where nothing fits.

    deviation_ev: how much more light the frame shows than was typed for it.
    """
    thirds = deviation_ev * 3.0
    if abs(thirds - round(thirds)) > 3.0 * _NEAR_STEP_EV or round(thirds) == 0:
        return ""
    step = round(thirds) / 3.0
    # a reading that is too low, or a frame that got more than its settings say
    sign = 1.0 if typed.reading else -1.0
    guesses = []
    if typed.f_number:
        meant = nearest_f_mark(typed.f_number * math.exp2(sign * step / 2.0))
        was = nearest_f_mark(typed.f_number)
        if meant.label != was.label:
            guesses.append(f"{was.label} typed for {meant.label}?")
    if typed.time_s:
        time = nearest_time_mark(typed.time_s * math.exp2(-sign * step))
        was_time = nearest_time_mark(typed.time_s)
        if time.label != was_time.label:
            guesses.append(f"{was_time.label} typed for {time.label}?")
    if typed.iso and abs(step - round(step)) < 0.01:
        iso = nearest_iso_mark(typed.iso * math.exp2(-sign * step))
        who = "meter left at" if typed.reading else "body left at"
        guesses.append(f"{who} ISO {iso.marked:g}?")
    return " ".join(guesses)


def two_groups(deviation_ev: NDArray[np.float64]) -> float:
    """Return the distance in EV between two groups that the frames fall into, 0 for one group.

    At least three frames on either side, further apart than standards.GROUPS_EV and six times
    what either group scatters.
    """
    values = np.sort(deviation_ev[np.isfinite(deviation_ev)])
    best = 0.0
    for k in range(3, values.size - 2):
        gap = float(values[k] - values[k - 1])
        low, high = values[:k], values[k:]
        within = max(float(np.std(low)), float(np.std(high)), 0.01)
        if gap > max(standards.GROUPS_EV, 6.0 * within):
            best = max(best, float(high.mean() - low.mean()))
    return best
