"""Photon transfer: gain, read noise with the floor they set, after EMVA 1288."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from profiler import standards
from profiler.calibration.fit.line import fit_linear

if TYPE_CHECKING:
    from numpy.typing import NDArray

QUANTISATION_VARIANCE_DN2 = 1.0 / 12.0
"""Variance of rounding to whole codes (EMVA 1288 Release 4.0, sigma_q^2)."""
DARK_VARIANCE_FLOOR_DN2 = 0.24
"""Dark variance below which rounding hides the noise (EMVA 1288 Release 4.0, via emva1288)."""
TRANSFER_RANGE = 0.70
"""Part of the saturation signal up to which the transfer is fitted (EMVA 1288 Release 4.0)."""


@dataclass(frozen=True, kw_only=True)
class NoTransfer:
    """Why nothing can be said of the noise of a channel."""

    reason: str


@dataclass(frozen=True, kw_only=True)
class Transfer:
    """Noise of one channel at one ISO label.

    slope_dn_per_e: variance over signal, K of EMVA 1288; dark_variance_dn2: at no signal, rounding
    included; both with standard uncertainty and their covariance. from_pairs: False where single
    frames had to serve, so that fixed pattern counts as noise; points: frames in the fit; top_dn:
    highest signal in it.
    """

    slope_dn_per_e: float
    slope_u: float
    dark_variance_dn2: float
    dark_variance_u: float
    covariance: float
    from_pairs: bool
    points: int
    top_dn: float

    @property
    def dark_measured(self) -> bool:
        """Whether the dark noise stands out of rounding and of its own uncertainty (25 %)."""
        beyond_rounding = self.dark_variance_dn2 - QUANTISATION_VARIANCE_DN2
        seen = beyond_rounding >= 2.0 * self.dark_variance_u
        return seen and self.dark_variance_dn2 >= DARK_VARIANCE_FLOOR_DN2

    @property
    def quantised(self) -> bool:
        """Whether rounding certainly hides the dark noise, which is then an upper bound."""
        return not self.dark_measured and self.dark_most_dn2 <= 2.0 * DARK_VARIANCE_FLOOR_DN2

    @property
    def dark_most_dn2(self) -> float:
        """Dark variance, rounding included, that is hardly exceeded (97.5 %), never under it."""
        most = self.dark_variance_dn2 + 2.0 * self.dark_variance_u
        return max(most, DARK_VARIANCE_FLOOR_DN2)

    @property
    def gain_e_per_dn(self) -> float:
        """Electrons per DN, 1/K."""
        return 1.0 / self.slope_dn_per_e

    @property
    def gain_u_e_per_dn(self) -> float:
        """Standard uncertainty of the gain, e-/DN."""
        return self.slope_u / self.slope_dn_per_e**2

    @property
    def read_noise_dn(self) -> float | None:
        """Dark noise without rounding, DN: its most where quantised, None where unknown."""
        if not self.dark_measured and not self.quantised:
            return None
        dark = self.dark_variance_dn2 if self.dark_measured else self.dark_most_dn2
        return math.sqrt(dark - QUANTISATION_VARIANCE_DN2)

    @property
    def read_noise_e(self) -> float | None:
        """Dark noise without rounding, electrons (EMVA 1288: sigma_d); see read_noise_dn."""
        noise = self.read_noise_dn
        return None if noise is None else noise * self.gain_e_per_dn

    @property
    def read_noise_u_e(self) -> float | None:
        """Standard uncertainty of the read noise, electrons; of a most only what the gain adds."""
        noise = self.read_noise_dn
        if noise is None:
            return None
        dark_u = self.dark_variance_u if self.dark_measured else 0.0
        return math.hypot(dark_u / (2.0 * noise) * self.gain_e_per_dn, noise * self.gain_u_e_per_dn)

    def dynamic_range_ev(self, span_dn: float) -> float:
        """Stops from clip, span_dn above black, down to SNR 1 (EMVA 1288: DR with mu_e.min)."""
        return math.log2(span_dn / emva_threshold_dn(self))


def emva_threshold_dn(transfer: Transfer) -> float:
    """Return the signal at SNR 1 in DN, (sigma_y.dark / K + 1/2) K (EMVA 1288 Release 4.0)."""
    dark = math.sqrt(max(transfer.dark_variance_dn2, DARK_VARIANCE_FLOOR_DN2))
    return dark + 0.5 * transfer.slope_dn_per_e


def photon_transfer(
    signal_dn: NDArray[np.float64],
    variance_dn2: NDArray[np.float64],
    pixels: NDArray[np.float64],
    span_dn: float,
    *,
    from_pairs: bool,
    part: float = TRANSFER_RANGE,
) -> Transfer | NoTransfer:
    """Return the transfer of one channel, or why the frames can't carry it.

    signal_dn (n,): mean above black, dark pairs included at about 0; variance_dn2 (n,): temporal
    variance; pixels (n,): how many gave it. Weighted by the variance's own scatter,
    u = variance sqrt(2/pixels), over signals up to `part` of span_dn; the weights come
    from the fit itself, so that a chance low variance can't draw it down. Single frames hold the
    fixed pattern too, whose variance grows with the square of the signal: a term of its own.
    Whether the levels lie far enough apart is judged by the uncertainty of the slope.
    """
    use = (signal_dn <= part * span_dn) & (pixels > 1) & np.isfinite(variance_dn2)
    signal, variance, count = signal_dn[use], variance_dn2[use], pixels[use]
    if signal.size < 3:
        return NoTransfer(reason="fewer than three levels below the end of the line tell a spread")
    if not np.any(variance > 0.0):
        return NoTransfer(reason="the values don't vary")
    if np.ptp(signal) <= 0.0:
        return NoTransfer(reason="all frames have one level")
    columns = [np.ones(signal.size), signal]
    if not from_pairs and signal.size > 4:
        columns.append(
            signal**2
        )  # fixed pattern grows with the signal, its variance with the square
    design = np.stack(columns, axis=1)
    model = np.maximum(variance, DARK_VARIANCE_FLOOR_DN2)
    for _ in range(8):
        fit = fit_linear(design, variance, u=model * np.sqrt(2.0 / count))
        update = np.maximum(design @ fit.coefficients, DARK_VARIANCE_FLOOR_DN2 / 2.0)
        settled = np.allclose(update, model, rtol=1e-4)
        model = update
        if settled:
            break
    dark, slope = (float(v) for v in fit.coefficients[:2])
    # scatter beyond the chance of variances widens the result
    residual = (variance - design @ fit.coefficients) / (model * np.sqrt(2.0 / count))
    excess = max(1.0, float(np.sum(residual**2)) / max(signal.size - len(columns), 1))
    covariance = fit.covariance * excess
    if slope <= 0.0:
        return NoTransfer(reason="the noise doesn't grow with the level")
    part_u = math.sqrt(covariance[1, 1]) / slope
    if part_u > standards.GAIN_MOST_U:
        known = f"is only known to {100.0 * part_u:.0f} %" if part_u < 1.0 else "stays unknown"
        return NoTransfer(reason=f"the levels lie too close together: the gain {known}")
    return Transfer(
        slope_dn_per_e=slope,
        slope_u=math.sqrt(covariance[1, 1]),
        dark_variance_dn2=max(dark, 0.0),
        dark_variance_u=math.sqrt(covariance[0, 0]),
        covariance=float(covariance[0, 1]),
        from_pairs=from_pairs,
        points=int(signal.size),
        top_dn=float(signal.max()),
    )


def floor_signal_dn(transfer: Transfer, snr: float) -> tuple[float, float]:
    """Return the signal (DN above black) at which SNR falls to `snr`, with its uncertainty.

    Solves s / sqrt(sigma_0^2 + K s) = snr (EMVA 1288 Release 4.0, eq. 21, in DN). Dark noise that
    isn't measured counts with its most, so that the signal is a most too.
    """
    k, measured = transfer.slope_dn_per_e, transfer.dark_measured
    dark = transfer.dark_variance_dn2 if measured else transfer.dark_most_dn2
    root = math.sqrt((snr**2 * k) ** 2 + 4.0 * snr**2 * dark)
    signal = 0.5 * (snr**2 * k + root)
    d_k = 0.5 * snr**2 * (1.0 + snr**2 * k / root)
    d_dark = snr**2 / root
    variance = (
        (d_k * transfer.slope_u) ** 2
        + (d_dark * transfer.dark_variance_u) ** 2
        + 2.0 * d_k * d_dark * transfer.covariance
        if measured
        else (d_k * transfer.slope_u) ** 2
    )
    return signal, math.sqrt(max(variance, 0.0))
