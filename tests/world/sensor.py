"""A sensor made of pixels that are drawn one by one: light in, statistics of a patch out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler.records import ChannelMeasure

CHANNELS = ("R", "G1", "G2", "B")
GRID = (24, 25)
PIXELS = GRID[0] * GRID[1]
DOWN, ACROSS = (
    axis.ravel() for axis in np.meshgrid(*(np.linspace(-0.5, 0.5, n) for n in GRID), indexing="ij")
)
"""Place of each pixel in the patch, 1 from edge to edge."""


@dataclass(frozen=True, kw_only=True)
class Sensor:
    """One body at one ISO label; arrays (4,) in the order of CHANNELS.

    metered_dn: signal at the light that the body's own scale calls zero. nonlinear: part by which
    the signal at clip falls short of the straight line. bell_dn: noise that the camera adds to
    saturated pixels, so that clip is a bell.
    """

    black_dn: NDArray[np.float64]
    clip_dn: NDArray[np.float64]
    metered_dn: NDArray[np.float64]
    electrons_per_dn: float
    read_dn: float
    nonlinear: float = 0.0
    bell_dn: float = 0.0

    def clip_ev(self) -> NDArray[np.float64]:
        """Return the light (4,), in EV on the body's own scale, at which each channel clips."""
        span = self.clip_dn - self.black_dn
        a = self.nonlinear
        # s (1 - a s/span) = span, the smaller root
        full = span if a == 0.0 else span * (1.0 - np.sqrt(1.0 - 4.0 * a)) / (2.0 * a)
        return np.log2(full / self.metered_dn)

    def pixels(
        self, light_ev: NDArray[np.float64], shape: NDArray[np.float64], rng: np.random.Generator
    ) -> NDArray[np.float64]:
        """Return codes (n, 4, PIXELS) of n frames; light_ev (n,).

        shape (4, PIXELS): light and sensitivity of each pixel as a part of the patch's mean.
        """
        span = self.clip_dn - self.black_dn
        signal = self.metered_dn * np.exp2(light_ev)[:, None]
        # a frame far over clips whatever the curve does there
        straight = np.minimum(signal, 1.2 * span)
        signal = np.where(
            signal > 1.2 * span, signal, straight * (1.0 - self.nonlinear * straight / span)
        )
        ideal = signal[:, :, None] * shape
        sd = np.sqrt(self.read_dn**2 + ideal / self.electrons_per_dn)
        noisy = self.black_dn[:, None] + ideal + sd * rng.standard_normal(ideal.shape)
        clipped = np.minimum(noisy, self.clip_dn[:, None])
        if self.bell_dn:
            clipped = clipped + self.bell_dn * rng.standard_normal(ideal.shape)
        return np.maximum(np.rint(clipped), 0.0)


def statistics(
    codes: NDArray[np.float64], partner: NDArray[np.float64] | None
) -> dict[str, ChannelMeasure]:
    """Return channel -> statistics of one frame's codes (4, PIXELS), with its equal frame's."""
    ordered = np.sort(codes, axis=1)
    n = codes.shape[1]
    out = {}
    for k, name in enumerate(CHANNELS):
        row = ordered[k]
        top, mean = row[-1], float(row.mean())
        across, down = (float(codes[k] @ axis / (axis @ axis)) for axis in (ACROSS, DOWN))
        temporal = None
        if partner is not None:
            ratio = codes[k].mean() / max(partner[k].mean(), 1.0)
            temporal = 0.5 * float(np.var(codes[k] - ratio * partner[k], ddof=1))
        out[name] = ChannelMeasure(
            n=n,
            mean_dn=mean,
            variance_dn2=float(row.var(ddof=1)),
            neighbour_variance_dn2=0.5 * float(np.mean(np.diff(codes[k]) ** 2)),
            gradient=(abs(across) + abs(down)) / mean,
            top_dn=float(top),
            top_share=float(np.mean(row == top)),
            low_edge_dn=float(row[n // 100]),
            median_dn=float(row[n // 2]),
            high_edge_dn=float(row[n - 1 - n // 100]),
            slope_across_dn=across,
            slope_down_dn=down,
            bottom_dn=float(row[0]),
            bottom_share=float(np.mean(row == row[0])),
            temporal_variance_dn2=temporal,
            pair_n=0 if partner is None else n,
        )
    return out
