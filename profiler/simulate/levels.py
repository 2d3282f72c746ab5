"""What a simulated camera makes of light, in closed form: how it departs from an ideal one."""

from __future__ import annotations

import math
from dataclasses import dataclass

from profiler.simulate.scene import HandMeter, Scene, metered_exposure_lx_s
from profiler.simulate.sensor import Body


@dataclass(frozen=True, kw_only=True)
class Effects:
    """Departures from an ideal linear camera; the defaults do nothing.

    Light: flicker_depth of a sine of flicker_hz, seen by rows that start one after the other
    over readout_s; light_scatter, relative rms from frame to frame.
    Charge: dark_current_e_per_s; hot_share of pixels that hold hot_e more; knee_start, part of
    the range where the response bends to knee_slope; mask_leak, part of the light that the masked
    pixel next to the active area gets.
    Codes: smoothing, weight of each neighbour of the same colour; push_ev, digital gain at some ISO
    labels; wide_open_ev, digital gain at f/1.4 that is gone at f/4; shading_ev, lens shading
    corrected in the corner; clip_noise_dn, rms of the dark frame that the camera takes off;
    burst_clip, clip of frames with fewer bits as a part of the full range; black_cut, black taken
    off with what falls below zero cut to zero.
    Tags: black_tag_scale, black_tag_offset_dn, white_tag_scale against the truth.
    File: curve_bits, codes kept of a square-root curve; linear_dng, three samples a pixel.
    """

    flicker_depth: float = 0.0
    flicker_hz: float = 100.0
    readout_s: float = 0.015
    light_scatter: float = 0.0
    dark_current_e_per_s: float = 0.0
    hot_share: float = 0.0
    hot_e: float = 0.0
    knee_start: float = 1.0
    knee_slope: float = 0.4
    mask_leak: float = 0.0
    smoothing: float = 0.0
    push_ev: tuple[tuple[int, float], ...] = ()
    wide_open_ev: float = 0.0
    shading_ev: float = 0.0
    clip_noise_dn: float = 0.0
    burst_clip: float = 0.95
    black_cut: bool = False
    black_tag_scale: float = 1.0
    black_tag_offset_dn: float = 0.0
    white_tag_scale: float = 1.0
    curve_bits: int = 0
    linear_dng: bool = False

    def code_gain(self, iso: int, aperture: float) -> float:
        """Return the factor on codes above black at an ISO label and a true f-number."""
        stops = dict(self.push_ev).get(iso, 0.0)
        if self.wide_open_ev > 0.0:
            aperture_value = 2.0 * math.log2(aperture)
            stops += self.wide_open_ev * min(1.0, max(0.0, (4.0 - aperture_value) / 3.0))
        return float(2.0**stops)


IDEAL = Effects()
LINEAR_LIMIT = 0.02
"""Departure from the straight line that ends the linear range, as a part of the straight line."""


@dataclass(frozen=True, kw_only=True)
class ChannelTruth:
    """True figures of one channel at one ISO label: levels in DN, metered_dn above black."""

    black_dn: float
    clip_dn: float
    metered_dn: float
    headroom_ev: float
    linear_headroom_ev: float
    gain_e_per_dn: float
    read_noise_e: float
    full_well_e: float


def channel_truth(
    body: Body,
    iso: int,
    scene: Scene,
    meter: HandMeter,
    mode: str,
    *,
    effects: Effects = IDEAL,
    aperture: float = 8.0,
    lens_loss_ev: float = 0.0,
) -> dict[str, ChannelTruth]:
    """Return the true figures of each channel for an error-free meter.

    metered_dn is the mean above black at the card's centre when the camera is set as the meter
    asks; headroom_ev = log2((clip - black)/metered); full_well_e is what a pixel holds at clip.
    The linear headroom ends where a knee takes LINEAR_LIMIT off the straight line.
    """
    label = body.label(iso)
    exposure_lx_s = metered_exposure_lx_s(scene, meter, mode, iso) * 2.0**-lens_loss_ev
    code_gain = effects.code_gain(iso, aperture)
    found = {}
    for channel in body.channels:
        electrons = (
            body.electrons_per_lx_s
            * body.sensitivity[channel]
            * exposure_lx_s
            * 2.0 ** scene.colour_ev(channel)
        )
        metered_dn = electrons / label.gain_e_per_dn * code_gain
        black_dn = label.black_dn[channel]
        clip_dn = clip_code_dn(body, iso, channel, code_gain)
        span_dn = clip_dn - black_dn
        if effects.black_cut:
            clip_dn -= float(round(black_dn))
            black_dn -= float(round(black_dn))
        headroom_ev = math.log2(span_dn / metered_dn)
        found[channel] = ChannelTruth(
            black_dn=black_dn,
            clip_dn=clip_dn,
            metered_dn=metered_dn,
            headroom_ev=headroom_ev,
            linear_headroom_ev=headroom_ev + math.log2(_linear_share(effects)),
            gain_e_per_dn=label.gain_e_per_dn / code_gain,
            read_noise_e=label.read_noise_e,
            full_well_e=span_dn * label.gain_e_per_dn / code_gain,
        )
    return found


def clip_code_dn(body: Body, iso: int, channel: str, code_gain: float = 1.0) -> float:
    """Return the code in DN at which a channel saturates: converter or full well, then code gain.

    clip' = black + k (clip - black), at most 2^bits - 1, where k is a digital gain.
    """
    label = body.label(iso)
    black_dn = label.black_dn[channel]
    well_dn = black_dn + body.full_well_e / label.gain_e_per_dn
    clip_dn = min(label.clip_dn[channel], well_dn)
    if code_gain != 1.0:
        clip_dn = round(black_dn + code_gain * (clip_dn - black_dn))
    return min(float(clip_dn), float(body.top_code_dn))


def black_tag_dn(body: Body, iso: int, effects: Effects = IDEAL) -> dict[str, float]:
    """Return the black level in DN that the file states for each channel; right or wrong."""
    return {
        c: max(
            0.0,
            (0.0 if effects.black_cut else black_dn) * effects.black_tag_scale
            + effects.black_tag_offset_dn,
        )
        for c, black_dn in body.label(iso).black_dn.items()
    }


def white_tag_dn(body: Body, effects: Effects = IDEAL) -> int:
    """Return the white level in DN that the file states: the highest code, unless a fault."""
    return round(body.top_code_dn * effects.white_tag_scale)


def _linear_share(effects: Effects) -> float:
    """Return the exposure that ends the straight line as a part of the one that would reach clip.

    Above the start s the response is s + g (x - s); it has lost d x where
    x = s (1 - g)/(1 - g - d).
    """
    lost = 1.0 - effects.knee_slope
    if effects.knee_start >= 1.0 or lost <= LINEAR_LIMIT:
        return 1.0
    return min(1.0, effects.knee_start * lost / (lost - LINEAR_LIMIT))
