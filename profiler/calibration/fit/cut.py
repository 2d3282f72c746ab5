"""Level and noise of pixels in the dark whose lower half was cut off."""

from __future__ import annotations

import math
from dataclasses import dataclass

from profiler import standards
from profiler.calibration.fit.student import normal_quantile
from profiler.records import ChannelMeasure


@dataclass(frozen=True, kw_only=True)
class Uncut:
    """Normal noise that a cut at the lowest code would turn into the codes seen: mean and sd, DN.

    u_dn: standard uncertainty of the mean.
    """

    mean_dn: float
    sd_dn: float

    @property
    def u_dn(self) -> float:
        """Standard uncertainty of the mean, in DN."""
        return math.hypot(standards.CUT_U_PART * self.sd_dn, standards.CUT_U_DN)


def is_cut(
    bottom_dn: float,
    bottom_share: float,
    median_dn: float,
    high_edge_dn: float,
    gap_dn: float = 1.0,
) -> bool:
    """Return whether noise was cut off at the lowest code.

    Too many pixels sit on it, and it is zero or the noise reaches further up than down (which
    noise under some 2 DN can't show). high_edge: 99 % point; gap: distance of the codes in use.
    """
    if bottom_share < standards.CUT_SHARE or high_edge_dn <= bottom_dn:
        return False
    lopsided = high_edge_dn - median_dn > 1.25 * (median_dn - bottom_dn) + gap_dn
    return bottom_dn == 0.0 or lopsided


def cut_share(cell: ChannelMeasure) -> float:
    """Return the share of a patch's pixels at which noise was cut off, 0 where it wasn't."""
    bottom, share = cell.bottom_dn, cell.bottom_share
    if bottom is None:
        return 0.0
    all_of_it = bottom == 0.0 and share > standards.CUT_MOST_SHARE
    gap = float(max(cell.gap_period, 1))
    if all_of_it or is_cut(bottom, share, cell.median_dn, cell.high_edge_dn, gap):
        return share
    return 0.0


def before_cut(cell: ChannelMeasure) -> Uncut | None:
    """Return level and noise of a cut patch as they were, None where too little of it is left."""
    return uncut(cell.mean_dn, cell.bottom_dn or 0.0, cell.bottom_share)


def uncut(mean_dn: float, bottom_dn: float, bottom_share: float) -> Uncut | None:
    """Return the noise before the cut, None where too little of it is left.

    With p the share of pixels on the lowest code and z the normal quantile of p:
    mean - bottom = m (1 - p) + s f(z), where m = 1/2 - z s, f the normal density: what lies below
    half a code was cut. So s = (mean - bottom - (1 - p)/2) / (f(z) - z (1 - p)).
    """
    if not 0.0 < bottom_share <= standards.CUT_MOST_SHARE:
        return None
    z = normal_quantile(bottom_share)
    density = math.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
    above = 1.0 - bottom_share
    sd = (mean_dn - bottom_dn - 0.5 * above) / (density - z * above)
    if sd <= 0.0:
        return None
    return Uncut(mean_dn=bottom_dn + 0.5 - z * sd, sd_dn=sd)
