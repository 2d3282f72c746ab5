"""Noise and linearity figures by the rules of EMVA 1288, beside our own weighted ones.

EMVA 1288 Release 4.0 Linear, as its reference package emva1288 1.0.2 applies it. Clip is not
taken from there: its saturation point, the peak of the variance, reads low by design.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from profiler.calibration.fit.line import fit_linear
from profiler.calibration.fit.noise import (
    DARK_VARIANCE_FLOOR_DN2,
    QUANTISATION_VARIANCE_DN2,
    TRANSFER_RANGE,
)
from profiler.results import EmvaRow

if TYPE_CHECKING:
    from numpy.typing import NDArray

LINEARITY_RANGE = (0.05, 0.95)
"""Parts of the saturation signal between which linearity is judged (EMVA 1288 Release 4.0)."""


def emva_figures(
    exposure: NDArray[np.float64],
    signal_dn: NDArray[np.float64],
    variance_dn2: NDArray[np.float64],
    dark_variance_dn2: float,
    saturation_dn: float,
) -> EmvaRow | None:
    """Return the figures of one channel; levels (n,) rising with exposure (n,), any linear unit.

    signal_dn: mean less dark mean; variance_dn2: temporal variance; saturation_dn: signal at
    saturation. Gain: sigma_y^2 - sigma_dark^2 = K (mu_y - mu_dark), unweighted through the origin,
    up to 70 % (eq. 50), or None. Dark noise: at least 0.24 DN^2, 1/12 DN^2 taken off for electrons.
    Dynamic range: saturation over (sigma_dark/K + 1/2) electrons. Linearity: a line through 5 to
    95 %, weights 1/signal^2, deviation (signal - line)/line.
    """
    low = signal_dn <= TRANSFER_RANGE * saturation_dn
    gain = float(
        fit_linear(signal_dn[low, None], variance_dn2[low] - dark_variance_dn2).coefficients[0]
    )
    if not gain > 0.0:
        return None
    dark = math.sqrt(max(dark_variance_dn2, DARK_VARIANCE_FLOOR_DN2))
    threshold_e = dark / gain + 0.5
    begin, end = (part * saturation_dn for part in LINEARITY_RANGE)
    judged = (signal_dn >= begin) & (signal_dn <= end)
    design = np.stack([exposure[judged], np.ones(int(judged.sum()))], axis=1)
    line = design @ fit_linear(design, signal_dn[judged], u=signal_dn[judged]).coefficients
    deviation = 100.0 * (signal_dn[judged] - line) / line
    return EmvaRow(
        gain_dn_per_e=gain,
        dark_noise_dn=dark,
        dark_noise_e=math.sqrt(dark**2 - QUANTISATION_VARIANCE_DN2) / gain,
        dynamic_range=saturation_dn / gain / threshold_e,
        linearity_low_percent=float(deviation.min()),
        linearity_high_percent=float(deviation.max()),
    )
