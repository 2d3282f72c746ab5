"""The raw value without light, from whichever source is nearest to the pixels."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from profiler import standards
from profiler.calibration.fit.student import t_quantile
from profiler.records import Flag

if TYPE_CHECKING:
    from numpy.typing import NDArray

_SURE = 4.0
"""Standard uncertainties of the chosen black by which another source disagrees with it."""
SOURCES = ("dark frames", "masked pixels", "tag")
"""Sources of black from the most to the least trusted; the fit comes last."""


@dataclass(frozen=True, kw_only=True)
class BlackLevel:
    """Black per channel (c,) in DN with its standard uncertainty; source names where from.

    candidates: every source that spoke, with its levels (c,).
    """

    dn: NDArray[np.float64]
    u_dn: NDArray[np.float64]
    source: str
    candidates: Mapping[str, NDArray[np.float64]]


def choose_black(
    candidates: Mapping[str, tuple[NDArray[np.float64], NDArray[np.float64]]], channels: int
) -> BlackLevel:
    """Return the most trusted black of `candidates` (name -> level (c,), u (c,)), else unknown."""
    levels = {name: value[0] for name, value in candidates.items()}
    for name in SOURCES:
        if name in candidates and np.all(np.isfinite(candidates[name][0])):
            dn, u = candidates[name]
            return BlackLevel(dn=dn, u_dn=u, source=name, candidates=levels)
    return BlackLevel(
        dn=np.zeros(channels), u_dn=np.full(channels, np.inf), source="fit", candidates=levels
    )


def judge_black(
    chosen: BlackLevel,
    fitted_dn: NDArray[np.float64],
    fitted_u_dn: NDArray[np.float64],
    dof: float = math.inf,
) -> tuple[BlackLevel, tuple[Flag, ...]]:
    """Return the black to use, after comparison with the line's own, plus flags.

    Dark frames stand whatever the line says. Masked pixels or a tag give way to the line where
    they are off by more than standards.BLACK_DISAGREEMENT_DN and more than scatter with `dof`
    degrees of freedom shows once in standards.BLACK_FALSE.
    """
    factor = t_quantile(1.0 - 0.5 * standards.BLACK_FALSE, max(dof, 2.0))
    levels = dict(chosen.candidates) | {"fit": fitted_dn}
    limit = standards.BLACK_DISAGREEMENT_DN
    flags: list[Flag] = []
    if chosen.source == "fit":
        return BlackLevel(dn=chosen.dn, u_dn=chosen.u_dn, source="fit", candidates=levels), ()
    known_u = np.where(np.isfinite(chosen.u_dn), chosen.u_dn, 0.0)
    for name, level in chosen.candidates.items():
        gap = np.abs(level - chosen.dn)
        apart = float(np.max(gap))
        if np.any(gap > np.maximum(limit, _SURE * known_u)):
            flags.append(_flag(name, chosen.source, apart))
    gap = np.abs(fitted_dn - chosen.dn)
    sure = gap > np.maximum(limit, factor * np.hypot(fitted_u_dn, known_u))
    if not np.any(sure):
        return (
            BlackLevel(dn=chosen.dn, u_dn=chosen.u_dn, source=chosen.source, candidates=levels),
            tuple(flags),
        )
    flags.append(_flag(chosen.source, "the line", float(np.max(gap[sure]))))
    if chosen.source == "dark frames":
        return (
            BlackLevel(dn=chosen.dn, u_dn=chosen.u_dn, source=chosen.source, candidates=levels),
            tuple(flags),
        )
    unknown = np.full(chosen.dn.shape, np.inf)
    return BlackLevel(dn=fitted_dn, u_dn=unknown, source="fit", candidates=levels), tuple(flags)


def late_shutter_u_dn(
    signal_dn: NDArray[np.float64], time_s: NDArray[np.float64], use: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """Return what a shutter off by one short time in all frames does to the line's black, (c,).

    Such a shutter takes the same levels from every frame of one aperture, as a lower black would:
    the frames can't tell the two apart. Each frame loses signal / time * standards.LATE_SHUTTER_S;
    of a line through the losses, weighted as levels are, the part at no signal is black's.
    """
    out = np.zeros(signal_dn.shape[1])
    for k in range(out.size):
        cells = use[:, k] & (signal_dn[:, k] > 0.0)
        if np.count_nonzero(cells) < 2:
            continue
        signal = signal_dn[cells, k]
        loss = signal / time_s[cells] * standards.LATE_SHUTTER_S
        design = np.stack([1.0 / signal, np.ones(signal.size)], axis=1)
        out[k] = abs(np.linalg.lstsq(design, loss / signal, rcond=None)[0][0]) / np.sqrt(3.0)
    return out


def mean_of(
    levels_dn: Sequence[NDArray[np.float64]],
    noise_u_dn: Sequence[NDArray[np.float64]],
    floor_u_dn: float,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the mean level (c,) over frames and its uncertainty, never under floor_u_dn.

    noise_u_dn: what the pixels' noise leaves in each level (c,): two levels that agree by chance
    are no better than that.
    """
    stack = np.stack(levels_dn)
    n = stack.shape[0]
    scatter = np.std(stack, axis=0, ddof=1) if n > 1 else np.zeros(stack.shape[1])
    noise = np.sqrt(np.mean(np.stack(noise_u_dn) ** 2, axis=0))
    return stack.mean(axis=0), np.hypot(np.maximum(scatter, noise) / np.sqrt(n), floor_u_dn)


def _flag(name: str, other: str, gap_dn: float) -> Flag:
    return Flag(name="black-disagrees", size=gap_dn, unit="DN", detail=f"{name} against {other}")
