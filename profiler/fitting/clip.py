"""The raw value at which a channel saturates, from frames that got too much light."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from profiler import standards
from profiler.fitting.order import quantile

if TYPE_CHECKING:
    from numpy.typing import NDArray

_QUANTISATION_U_DN = 1.0 / np.sqrt(12.0)


@dataclass(frozen=True, kw_only=True)
class PatchCodes:
    """Codes of one channel over n frames: each array (n,), in DN but top_share (part of one)."""

    low_edge_dn: NDArray[np.float64]
    median_dn: NDArray[np.float64]
    high_edge_dn: NDArray[np.float64]
    top_share: NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class ClipFit:
    """Clip of one channel at one ISO label.

    level_dn: low edge of the pile-up, with u_dn; where clip was not seen, the highest level that
    was, and seen is False. bell: the pile-up is no single code. frames (n,): frames in the pile-up.
    """

    level_dn: float
    u_dn: float
    seen: bool
    bell: bool
    frames: NDArray[np.bool_]


def find_clip(placement_ev: NDArray[np.float64], codes: PatchCodes) -> ClipFit:
    """Return the clip of one channel from its frames, placements (n,) in EV.

    A level is clip when most of the patch sits on one code at the top, or when exposure rose by
    standards.PLATEAU_EV without a rise of level. Its low edge counts, never the highest code:
    noise and in-camera dark subtraction smear the pile-up upwards.
    """
    median = codes.median_dn
    highest = float(np.max(median))
    spread = np.maximum(codes.high_edge_dn - codes.low_edge_dn, 0.0)
    tolerance = max(2.0, 0.004 * highest)
    top = median >= highest - np.maximum(tolerance, 0.25 * spread)
    spike = top & (codes.top_share >= 0.5) & (codes.top_share <= 1.0)
    rise = float(np.ptp(placement_ev[top])) if top.any() else 0.0
    level_spread = float(np.ptp(median[top])) if top.any() else 0.0
    # a level that followed the exposure would have risen by far more than it did
    flat = rise >= standards.PLATEAU_EV and level_spread < 0.25 * highest * (2.0**rise - 1.0)
    if not spike.any() and not (
        flat and (rise >= 2.0 * standards.PLATEAU_EV or _piled(codes, top))
    ):
        return ClipFit(
            level_dn=highest, u_dn=0.0, seen=False, bell=False, frames=np.zeros(top.shape, bool)
        )
    best = _well_over(placement_ev, spike if spike.any() else top, codes.top_share)
    low = quantile(codes.low_edge_dn[best], 0.5)
    middle = quantile(median[best], 0.5)
    bell = middle - low > 1.5
    u = max(_QUANTISATION_U_DN, (middle - low) / np.sqrt(12.0))
    return ClipFit(level_dn=low, u_dn=float(u), seen=True, bell=bell, frames=top)


def touches_clip(codes: PatchCodes, clip: ClipFit) -> NDArray[np.bool_]:
    """Return (n,) whether the brightest pixels of a frame reach clip and spoil its mean."""
    if not clip.seen:
        return np.zeros(codes.high_edge_dn.shape, dtype=bool)
    margin = max(1.0, 0.0005 * clip.level_dn)
    return np.asarray(codes.high_edge_dn >= clip.level_dn - margin)


def _piled(codes: PatchCodes, top: NDArray[np.bool_]) -> bool:
    """Whether the top frames are narrower than a lit patch of that level can be (below 0.2 %)."""
    spread = (codes.high_edge_dn - codes.low_edge_dn)[top]
    return quantile(spread / codes.median_dn[top], 0.5) < 0.002


def _well_over(
    placement_ev: NDArray[np.float64], frames: NDArray[np.bool_], top_share: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Of the clipped frames, those half a stop to two stops over where clip begins, if any."""
    full = frames & (top_share >= 0.98)
    frames = full if full.any() else frames
    begin = float(np.min(placement_ev[frames]))
    band = frames & (placement_ev >= begin + 0.5) & (placement_ev <= begin + 2.5)
    return band if band.any() else frames
