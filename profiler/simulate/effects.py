"""What a sensor, its electronics or its file writer do beyond the ideal camera."""

from __future__ import annotations

import math
from dataclasses import dataclass


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
