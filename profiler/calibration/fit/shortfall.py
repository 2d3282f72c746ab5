"""How far bright frames fall short of what darker frames foretell, in level and in spread."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from profiler import standards
from profiler.calibration.fit.quantiles import MAD_TO_SD, median

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from profiler.calibration.fit.clip import PatchCodes

_SAME_FRAME_EV = 0.03  # of channels of one frame against each other: light of another colour, flare
_DIMMEST = 0.01  # part of the highest signal from which a level tells the slope, black being rough


@dataclass(frozen=True, kw_only=True)
class Shortfall:
    """What darker frames say of each cell; arrays (n, c) for n frames and c channels.

    short_ev: level expected from them, less the frame's own error, over the level that is there;
    u_ev: its standard uncertainty; both nan where no darker frame tells. black_dn (c,) as used.
    common (n,): all channels of the frame fall short alike, as by an error of the frame. noise_dn,
    pattern_dn: spread (1 to 99 %) of a lit patch of that level when it grows like photon noise,
    and when it grows like the level.
    """

    short_ev: NDArray[np.float64]
    u_ev: NDArray[np.float64]
    black_dn: NDArray[np.float64]
    common: NDArray[np.bool_]
    noise_dn: NDArray[np.float64]
    pattern_dn: NDArray[np.float64]


def find_shortfall(
    placement_ev: NDArray[np.float64],
    codes: Sequence[PatchCodes],
    black_dn: NDArray[np.float64] | None = None,
) -> Shortfall:
    """Return what the frames below standards.TRUST_FRACTION of a channel say of those above.

    black_dn (c,) or None where it isn't known: then it is drawn from the darkest frame. Medians
    throughout, so that a slip among the darker frames moves nothing.
    """
    level = np.stack([each.median_dn for each in codes], axis=1)
    spread = np.stack([each.spread_dn for each in codes], axis=1)
    if black_dn is None:
        black_dn = np.array([_rough_black(placement_ev, column) for column in level.T])
    signal = np.maximum(level - black_dn, 1e-9)
    highest = signal.max(axis=0)
    # a frame above one that is near the top may have clipped, however low its level is
    near_top = np.where(signal > standards.TRUST_FRACTION * highest, placement_ev[:, None], np.inf)
    low = (signal <= standards.TRUST_FRACTION * highest) & (signal >= _DIMMEST * highest)
    low &= placement_ev[:, None] < near_top.min(axis=0)
    gain_ev = np.log2(signal) - placement_ev[:, None]
    reference = np.array([_median(g[m]) for g, m in zip(gain_ev.T, low.T, strict=True)])
    raw = reference - gain_ev
    own = np.array([_median(row[m]) for row, m in zip(raw, low, strict=True)])
    alone_u = _scatter_ev(own)
    if signal.shape[1] > 1:
        # clip can only take: where no channel is dark enough, the one that lost least tells
        least = np.min(np.where(np.isfinite(raw), raw, np.inf), axis=1)
        own = np.where(np.isnan(own) & (np.abs(least) < 3.0 * alone_u), least, own)
    known = np.isfinite(own)
    u = np.where(known, _SAME_FRAME_EV, alone_u)
    short = raw - np.where(known, own, 0.0)[:, None]
    alike = np.ptp(np.where(np.isfinite(raw), raw, 0.0), axis=1) < 3.0 * _SAME_FRAME_EV
    noise, pattern = _spreads(signal, spread, low)
    return Shortfall(
        short_ev=short,
        u_ev=np.repeat(u[:, None], signal.shape[1], axis=1),
        black_dn=black_dn,
        common=alike,
        noise_dn=noise,
        pattern_dn=pattern,
    )


def _spreads(
    signal_dn: NDArray[np.float64], spread_dn: NDArray[np.float64], low: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Spread of a lit patch by level: sqrt(a + b signal), and growing in proportion from there.

    a is the square of the narrowest spread of the darker frames, read noise among it.
    """
    noise = np.full(signal_dn.shape, np.nan)
    pattern = np.full(signal_dn.shape, np.nan)
    for k in range(signal_dn.shape[1]):
        of, s, w = low[:, k], signal_dn[low[:, k], k], spread_dn[low[:, k], k]
        if not of.any() or not w.max() > 0.0:
            continue
        floor = float(w.min()) ** 2
        bright = s >= 0.1 * s.max()
        slope = median(np.maximum(w[bright] ** 2 - floor, 0.0) / s[bright])
        noise[:, k] = np.sqrt(floor + slope * signal_dn[:, k])
        pattern[:, k] = np.maximum(noise[:, k], median(w[bright] / s[bright]) * signal_dn[:, k])
    return noise, pattern


def _scatter_ev(own_ev: NDArray[np.float64]) -> float:
    """Scatter of frames whose error is known, never below what shutters do."""
    known = own_ev[np.isfinite(own_ev)]
    if known.size < 3:
        return standards.SHUTTER_SCATTER_EV
    spread = MAD_TO_SD * median(np.abs(known - median(known)))
    return max(standards.SHUTTER_SCATTER_EV, spread)


def _rough_black(placement_ev: NDArray[np.float64], level_dn: NDArray[np.float64]) -> float:
    """Level without light, from the darkest frame against each brighter one of the lower half."""
    darkest = int(np.argmin(placement_ev))
    light = np.exp2(placement_ev - placement_ev[darkest])
    others = (light >= 1.5) & (level_dn <= standards.TRUST_FRACTION * level_dn.max())
    if not others.any():
        return 0.0
    step = (level_dn[others] - level_dn[darkest]) / (light[others] - 1.0)
    return float(min(max(level_dn[darkest] - median(step), 0.0), level_dn[darkest]))


def _median(values: NDArray[np.float64]) -> float:
    return median(values) if values.size else float("nan")
