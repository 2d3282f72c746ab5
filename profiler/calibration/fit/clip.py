"""The raw value at which a channel saturates, from frames that got too much light."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from profiler import standards
from profiler.calibration.fit.quantiles import median
from profiler.calibration.fit.shortfall import Shortfall, find_shortfall

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

_QUANTISATION_U_DN = 1.0 / np.sqrt(12.0)
_SPIKE_SHARE = 0.5  # of the patch on one code
_NEAR_TOP = 0.9  # part of the highest code in use, from which a frame may reach clip
_NARROW = 0.7  # part of the spread that a lit patch of that level has: half its variance
_SKEW = 4.0  # lower over upper half of the spread, against the same of darker frames
_FULL_CODES = 10.0  # pixels on the top code, over those on a code if all were used alike


@dataclass(frozen=True, kw_only=True)
class PatchCodes:
    """Codes of one channel over n frames: each array (n,), in DN but top_share (part of one)."""

    low_edge_dn: NDArray[np.float64]
    median_dn: NDArray[np.float64]
    high_edge_dn: NDArray[np.float64]
    top_share: NDArray[np.float64]

    @property
    def spread_dn(self) -> NDArray[np.float64]:
        """Distance of the edges (n,)."""
        return np.maximum(self.high_edge_dn - self.low_edge_dn, 0.0)

    @property
    def means_only(self) -> bool:
        """Whether all that is known is a mean per frame, as in a published table."""
        return not np.any(self.spread_dn > 0.0) and not np.any(self.top_share > 0.0)


@dataclass(frozen=True, kw_only=True)
class ClipFit:
    """Clip of one channel at one ISO label.

    level_dn: low edge of the pile-up, with u_dn; where clip was not seen, the highest level that
    was, and seen is False. bell: the pile-up is no single code. frames (n,): frames in the pile-up.
    spoiled (n,): frames of which clip took a part, or may have taken one, so that their mean tells
    nothing about the line.
    """

    level_dn: float
    u_dn: float
    seen: bool
    bell: bool
    frames: NDArray[np.bool_]
    spoiled: NDArray[np.bool_]


def find_clips(
    placement_ev: NDArray[np.float64],
    codes: Sequence[PatchCodes],
    black_dn: NDArray[np.float64] | None = None,
) -> tuple[ClipFit, ...]:
    """Return the clip of each channel; black_dn (c,), None where it isn't known.

    A level at the top is clip when half of the patch or more sits on one code; when its frames are
    narrower than a lit patch of that level is, and fall short of the line; or when exposure rose by
    standards.PLATEAU_EV without a rise of level. Its low edge counts, never the highest code: noise
    and in-camera dark subtraction smear the pile-up upwards.
    """
    short = find_shortfall(placement_ev, codes, black_dn)
    return tuple(_clip(placement_ev, each, short, k) for k, each in enumerate(codes))


def _clip(
    placement_ev: NDArray[np.float64], codes: PatchCodes, short: Shortfall, k: int
) -> ClipFit:
    level = codes.median_dn
    highest = float(np.max(level))
    tolerance = np.maximum(max(2.0, 0.004 * highest), 0.25 * codes.spread_dn)
    top = level >= highest - tolerance
    missing = np.nan_to_num(short.short_ev[:, k], nan=0.0)
    limit = np.maximum(0.1, 3.0 * short.u_ev[:, k])
    spike = top & (codes.top_share >= _SPIKE_SHARE) & (codes.top_share <= 1.0)
    narrow = top & (codes.spread_dn < _NARROW * short.noise_dn[:, k]) & (missing > limit)
    full = top if _is_plateau(placement_ev, level, top, missing, limit) else spike | narrow
    partly = _partly_clipped(codes, short, k)
    if full.any():
        found = _seen(placement_ev, codes, spike if spike.any() else full, top, partly)
        return replace(found, spoiled=found.spoiled | _mean_near(found.level_dn, codes, short, k))
    # nothing tells a frame that falls short at the top from one that clip has spoiled
    farthest = limit if codes.means_only else np.maximum(limit, standards.SLIP_EV)
    far = (level >= _NEAR_TOP * highest) & (missing > farthest)
    far &= ~(short.common & _like_a_lit_patch(codes, short, k))
    spoiled = partly | far
    reached = np.where(spoiled, codes.low_edge_dn, level)
    return ClipFit(
        level_dn=float(np.max(reached)),
        u_dn=0.0,
        seen=False,
        bell=False,
        frames=np.zeros(top.shape, dtype=bool),
        spoiled=spoiled,
    )


def _seen(
    placement_ev: NDArray[np.float64],
    codes: PatchCodes,
    full: NDArray[np.bool_],
    top: NDArray[np.bool_],
    partly: NDArray[np.bool_],
) -> ClipFit:
    """The clip that the frames `full` show; `top` are all frames of its level."""
    best = _well_over(placement_ev, full, codes.top_share)
    low_edge = codes.low_edge_dn[best]
    upper, lower = codes.high_edge_dn - codes.median_dn, codes.median_dn - codes.low_edge_dn
    # light that falls off leaves a part unclipped: the upper half of the pile tells its width
    mirrored = codes.median_dn[best] - upper[best]
    low = median(np.where(lower[best] > 2.0 * upper[best] + 2.0, mirrored, low_edge))
    middle = median(codes.median_dn[best])
    u = max(_QUANTISATION_U_DN, (middle - low) / np.sqrt(12.0))
    margin = max(1.0, 0.0005 * low)
    spoiled = (codes.high_edge_dn >= low - margin) | partly | full
    return ClipFit(
        level_dn=low,
        u_dn=float(u),
        seen=True,
        bell=middle - low > 1.5,
        frames=top,
        spoiled=spoiled,
    )


def _is_plateau(
    placement_ev: NDArray[np.float64],
    level_dn: NDArray[np.float64],
    top: NDArray[np.bool_],
    short_ev: NDArray[np.float64],
    limit_ev: NDArray[np.float64],
) -> bool:
    """Whether exposure rose among the top frames while their level didn't.

    A rise of twice standards.PLATEAU_EV speaks for itself; a smaller one may be the error of one
    frame, so that two exposures must fall short of the line beside it.
    """
    rise = float(np.ptp(placement_ev[top]))
    level_spread = float(np.ptp(level_dn[top]))
    # a level that followed the exposure would have risen by far more than it did
    flat = rise >= standards.PLATEAU_EV and level_spread < 0.25 * float(np.max(level_dn)) * (
        2.0**rise - 1.0
    )
    far = top & (short_ev > np.maximum(limit_ev, standards.SLIP_EV))
    apart = float(np.ptp(placement_ev[far])) if far.any() else 0.0
    return flat and (rise >= 2.0 * standards.PLATEAU_EV or apart >= standards.PLATEAU_EV)


def _partly_clipped(codes: PatchCodes, short: Shortfall, k: int) -> NDArray[np.bool_]:
    """Frames (n,) of which a part is clipped: codes pile up at the upper end of the spread."""
    near = codes.high_edge_dn >= _NEAR_TOP * float(np.max(codes.high_edge_dn))
    spread = codes.spread_dn
    piled = (codes.top_share >= 0.05) & (codes.top_share * spread >= _FULL_CODES)
    upper, lower = codes.high_edge_dn - codes.median_dn, codes.median_dn - codes.low_edge_dn
    skew = (lower + 2.0) / (upper + 2.0)
    usual = max(median(skew[~near]), 1.0) if (~near).any() else 1.0
    return np.asarray(near & (piled | (skew > _SKEW * usual)))


def _mean_near(clip_dn: float, codes: PatchCodes, short: Shortfall, k: int) -> NDArray[np.bool_]:
    """Frames (n,) of which only a mean is known, where a part of the patch may have clipped.

    The level that darker frames foretell decides, for a mean that clip has lowered looks innocent.
    """
    if not codes.means_only:
        return np.zeros(codes.median_dn.shape, dtype=bool)
    black = float(short.black_dn[k])
    missing = np.nan_to_num(short.short_ev[:, k] + short.u_ev[:, k], nan=0.0)
    expected = (codes.median_dn - black) * np.exp2(np.maximum(missing, 0.0))
    return np.asarray(expected >= standards.LINE_HIGH_FRACTION * (clip_dn - black))


def _like_a_lit_patch(codes: PatchCodes, short: Shortfall, k: int) -> NDArray[np.bool_]:
    """Frames (n,) as wide as a patch of their level is, which clip would have narrowed.

    Means alone don't tell; several channels that fall short alike then speak for the frame.
    """
    if codes.means_only:
        return np.full(codes.median_dn.shape, short.short_ev.shape[1] > 1)
    wide_enough = codes.spread_dn >= 0.8 * short.noise_dn[:, k]
    return np.asarray(wide_enough & (codes.spread_dn <= 1.25 * short.pattern_dn[:, k]))


def _well_over(
    placement_ev: NDArray[np.float64], frames: NDArray[np.bool_], top_share: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Of the clipped frames, those half a stop to two stops over where clip begins, if any."""
    full = frames & (top_share >= 0.98)
    frames = full if full.any() else frames
    begin = float(np.min(placement_ev[frames]))
    band = frames & (placement_ev >= begin + 0.5) & (placement_ev <= begin + 2.5)
    return band if band.any() else frames
