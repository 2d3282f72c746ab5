"""Headroom, offset, exposure index with saturation speed of one fitted ISO label."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from profiler import standards
from profiler.calibration.fit.budget import propagate
from profiler.calibration.fit.labels import LabelFit

if TYPE_CHECKING:
    from numpy.typing import NDArray

_SAME_EV = 0.02  # greens nearer than this are one green


@dataclass(frozen=True, kw_only=True)
class Headroom:
    """Headroom per channel (c,) in EV with its parts of uncertainty, and the channel that rules.

    scatter_u, black_u, clip_u (c,): standard uncertainties from the frame errors, black, clip.
    first: index of the channel that clips first; lower_bound: clip of a ruling channel not seen.
    """

    headroom_ev: NDArray[np.float64]
    scatter_u_ev: NDArray[np.float64]
    black_u_ev: NDArray[np.float64]
    clip_u_ev: NDArray[np.float64]
    first: int
    name: str
    lower_bound: bool

    @property
    def u_ev(self) -> NDArray[np.float64]:
        """Standard uncertainty per channel from the fit alone."""
        return np.sqrt(self.scatter_u_ev**2 + self.black_u_ev**2 + self.clip_u_ev**2)


def find_headroom(fit: LabelFit) -> Headroom:
    """Return log2((clip - black) / metered level) per channel, with what is first to clip."""
    response = fit.response
    c = len(fit.channels)
    clip = np.array([end.level_dn for end in fit.clip])
    clip_u = np.array([end.u_dn for end in fit.clip])
    seen = np.array([end.seen for end in fit.clip])
    span = clip - response.black_dn
    headroom = np.log2(span) - np.log2(response.metered_dn)
    to_ev = 1.0 / (span * math.log(2.0))
    scatter = np.zeros(c)
    black = np.zeros(c)
    for k in range(c):
        block = response.covariance[np.ix_([k, c + k], [k, c + k])]
        slopes = np.array([[-to_ev[k], -1.0]])  # of headroom on black and on log2 of the level
        total = float(propagate(slopes, block)[0, 0])
        given_black = block[1, 1] - block[0, 1] ** 2 / block[0, 0] if block[0, 0] > 0.0 else total
        scatter[k] = math.sqrt(max(given_black, 0.0))
        black[k] = math.sqrt(max(total - given_black, 0.0))
    measured = np.where(seen, headroom, np.inf)
    first = int(np.argmin(measured if seen.any() else headroom))
    lower_bound = bool(np.any(~seen & (headroom < headroom[first]))) or not seen.any()
    if lower_bound:
        first = int(np.argmin(headroom))
    # unseen, the channel that got most is the one that will clip
    strongest = int(np.argmax(response.metered_dn))
    name = fit.channels[first if seen[first] else strongest]
    if name in ("G1", "G2"):
        twins = [headroom[k] for k, other in enumerate(fit.channels) if other in ("G1", "G2")]
        name = "G" if max(twins) - min(twins) < _SAME_EV else name
    return Headroom(
        headroom_ev=headroom,
        scatter_u_ev=scatter,
        black_u_ev=black,
        clip_u_ev=clip_u * to_ev,
        first=first,
        name=name,
        lower_bound=lower_bound,
    )


def offset_ev(headroom_ev: float, aim_stops: float) -> float:
    """Return the stops to add to the metered exposure so that the grey lands on the aim.

    >>> round(offset_ev(3.5, 2.963), 3)
    0.537
    """
    return headroom_ev - aim_stops


def exposure_index(iso: float, offset: float) -> float:
    """Return the ISO number to set on the meter so that the offset (EV) is already in it.

    >>> round(exposure_index(400, 0.537))
    276
    """
    return float(iso / 2.0**offset)


def saturation_speed(metered_h_lx_s: float, headroom_ev: float) -> float:
    """Return S_sat = 78/H_sat, H_sat the focal-plane exposure headroom_ev above metered_h_lx_s.

    ISO 12232:2006, saturation-based speed.
    """
    return float(standards.SATURATION_SPEED_LX_S.value / (metered_h_lx_s * 2.0**headroom_ev))
