"""How one ISO label stands to the others of the same series."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from profiler.results import IsoRow


@dataclass(frozen=True, kw_only=True)
class LabelNoise:
    """What the comparison needs of one label; gain and noise None where not measured.

    metered_dn, clip_dn above black of the channel that clips first, with metered_u_ev; gain and
    read noise of that channel with their standard uncertainties; gap_period of its codes.
    """

    iso: int
    metered_dn: float
    metered_u_ev: float
    span_dn: float
    clip_seen: bool
    gain_e_per_dn: float | None
    gain_u: float | None
    read_noise_e: float | None
    read_noise_u: float | None
    gap_period: int


def label_steps(labels: list[LabelNoise]) -> list[IsoRow]:
    """Return one step per pair of neighbouring labels, rising.

    The step, or part of it, was done on the codes where they have gaps that the lower label's
    haven't (push), or where the gain stands still (pull). A second gain shows by read noise in
    electrons that drops more than one amplifier lets it.
    """
    ordered = sorted(labels, key=lambda label: label.iso)
    out = []
    for low, high in itertools.pairwise(ordered):
        asked = math.log2(high.iso / low.iso)
        step = math.log2(high.metered_dn / low.metered_dn) + asked
        headroom = None
        if low.clip_seen and high.clip_seen:
            headroom = math.log2(high.span_dn / high.metered_dn) - math.log2(
                low.span_dn / low.metered_dn
            )
        out.append(
            IsoRow(
                iso=high.iso,
                below=low.iso,
                asked_ev=asked,
                step_ev=step,
                u_ev=math.hypot(low.metered_u_ev, high.metered_u_ev),
                headroom_change_ev=headroom,
                digital=_digital(low, high, asked),
                dual_gain=_dual_gain(low, high),
            )
        )
    return out


def _digital(low: LabelNoise, high: LabelNoise, asked_ev: float) -> str:
    if high.gap_period > 1 and low.gap_period <= 1:
        return "push"
    gains = (low.gain_e_per_dn, high.gain_e_per_dn, low.gain_u, high.gain_u)
    if any(value is None for value in gains):
        return ""
    low_gain, high_gain, low_u, high_u = (float(value or 0.0) for value in gains)
    moved = math.log2(low_gain / high_gain)
    u = math.hypot(low_u / low_gain, high_u / high_gain) / math.log(2.0)
    # an analogue step changes e-/DN by what was asked; one on paper leaves it where it was
    stands_still = abs(moved) < max(3.0 * u, 0.1) and abs(asked_ev - moved) > 0.2 + 3.0 * u
    return "pull" if stands_still else ""


def _dual_gain(low: LabelNoise, high: LabelNoise) -> bool:
    noises = (low.read_noise_e, high.read_noise_e, low.read_noise_u, high.read_noise_u)
    if any(value is None for value in noises):
        return False
    low_noise, high_noise, low_u, high_u = (float(value or 0.0) for value in noises)
    if high_noise <= 0.0:
        return False
    ratio = low_noise / high_noise
    u = ratio * math.hypot(low_u / max(low_noise, 1e-9), high_u / high_noise)
    # between neighbouring labels a single-gain sensor loses at most some 30 % (root of two stages)
    return ratio - 2.0 * u > 1.6
