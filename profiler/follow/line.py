"""The response line of a label while its frames come in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from profiler import standards
from profiler.calibration.fit.black import choose_black
from profiler.calibration.fit.clip import find_clips
from profiler.calibration.fit.labels import LabelData
from profiler.calibration.fit.quantiles import MAD_TO_SD

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, kw_only=True)
class LiveLine:
    """A line of slope one through the frames so far; n frames, c channels.

    signal_dn (n, c): level above black. metered_dn (c,): level at placement 0, NaN while no frame
    lies on the line. clip_dn (c,): above black, NaN where it wasn't seen. clipped (n,): whether a
    channel has reached clip. deviation_ev (n,): mean of the channels on the line, NaN without one.
    part (n,): how much of the range the fullest channel fills. scatter_ev: robust, of deviations.
    """

    signal_dn: NDArray[np.float64]
    metered_dn: NDArray[np.float64]
    clip_dn: NDArray[np.float64]
    clipped: NDArray[np.bool_]
    deviation_ev: NDArray[np.float64]
    part: NDArray[np.float64]
    scatter_ev: float

    @property
    def headroom_ev(self) -> float | None:
        """Stops from the metered level to the clip of the first channel; None while unknown."""
        with np.errstate(invalid="ignore", divide="ignore"):
            stops = np.log2(self.clip_dn / self.metered_dn)
        seen = stops[np.isfinite(stops)]
        return float(seen.min()) if seen.size else None


def live_line(label: LabelData, white_dn: float) -> LiveLine:
    """Return the line of the frames so far; white_dn: the file's own word on clip.

    Slope one is what a straight response is; the median over the frames holds against a few odd
    ones. The fit at the end knows better: this is to see what comes.
    """
    placement = label.placement_ev["exact"]
    channels = len(label.channels)
    black = choose_black(label.black, channels)
    clip = find_clips(placement, label.codes, black.dn)
    seen = np.array([end.seen for end in clip])
    top_dn = np.array([end.level_dn for end in clip]) - black.dn
    reached = np.stack([end.spoiled for end in clip], axis=1)
    signal = label.mean_dn - black.dn
    span = np.where(seen, top_dn, np.maximum(white_dn - black.dn, signal.max(axis=0)))
    on_line = ~reached & (signal > standards.LINE_LOW_FRACTION * span)
    on_line &= signal < standards.LINE_HIGH_FRACTION * span
    with np.errstate(invalid="ignore", divide="ignore"):
        each = np.where(on_line, np.log2(signal) - placement[:, None], np.nan)
    metered = np.full(channels, np.nan)
    for k in range(channels):
        if on_line[:, k].any():
            metered[k] = float(np.nanmedian(each[:, k]))
    off = each - metered
    counted = np.isfinite(off)
    deviation = np.full(len(placement), np.nan)
    some = counted.any(axis=1)
    deviation[some] = np.nansum(off[some], axis=1) / counted[some].sum(axis=1)
    known = np.abs(deviation[some])
    return LiveLine(
        signal_dn=signal,
        metered_dn=np.exp2(metered),
        clip_dn=np.where(seen, top_dn, np.nan),
        clipped=np.logical_and(reached.any(axis=1), seen.any()),
        deviation_ev=deviation,
        part=np.max(signal / span, axis=1),
        scatter_ev=float(MAD_TO_SD * np.median(known)) if known.size else 0.0,
    )
