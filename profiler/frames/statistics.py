"""Statistics of the patch, per channel."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from profiler import standards
from profiler.frames.cfa import Cfa, period
from profiler.frames.gaps import code_gaps, code_step, codes_in_use, top_code
from profiler.frames.samples import (
    Planes,
    Samples,
    Values,
    by_row,
    laid_out_alike,
    neighbours,
    split_channels,
)
from profiler.records import ChannelMeasure


def measure_patch(values_dn: Values, cfa: Cfa) -> dict[str, ChannelMeasure]:
    """Level, spread, gradient, top codes, gaps and banding per channel; levels in DN, black in.

    values_dn: (height, width), its first pixel at the array's first; see measure_channels.
    """
    return measure_channels(split_channels(values_dn, cfa), period(cfa)[0])


def measure_channels(patch: Mapping[str, Samples], cfa_height: int) -> dict[str, ChannelMeasure]:
    """Level, spread, gradient, top codes, gaps and banding per channel; levels in DN, black in.

    Quantiles and top codes are exact, from the count of each code; so are mean and variance, over
    the n samples that aren't hot or dead (see ordinary_codes). Slopes: A and B of the plane
    mean + A x + B y, with x and y running over 1 from edge to edge, fitted to an 8 x 8 grid of
    means; gradient: (|A| + |B|) / mean. Banding: see row_banding. Neighbour variance:
    mean((v - v')^2)/2 over each sample and the next one of its channel in the row. cfa_height: rows
    of the colour filter array's period.
    """
    return {name: _measure_channel(samples, cfa_height) for name, samples in patch.items()}


def _measure_channel(samples: Samples, cfa_height: int) -> ChannelMeasure:
    codes, used = samples.codes, samples.times
    low, median, high = _quantiles(codes, used, (0.01, 0.50, 0.99))
    least, most = ordinary_codes(low, high)
    plain, times = _from_to(codes, used, least, most)
    n = int(times.sum())
    # integers up to here: exact for any patch that fits into memory
    total, squares = int((plain * times).sum()), int((plain * plain * times).sum())
    mean = total / n
    variance = (squares - total * total / n) / (n - 1) if n > 1 else 0.0
    period_of_gaps, share_of_gaps = code_gaps(codes, used)
    top_dn = top_code(codes, used)
    planes = samples.planes if plain.size == codes.size else samples.clipped(least, most)
    across, down, level = slopes_dn(planes)
    return ChannelMeasure(
        n=n,
        mean_dn=mean,
        variance_dn2=max(0.0, variance),
        neighbour_variance_dn2=neighbour_variance(planes),
        gradient=(abs(across) + abs(down)) / level if level > 0.0 else 0.0,
        top_dn=float(top_dn),
        top_share=float(used[codes.searchsorted(top_dn)]) / int(used.sum()),
        low_edge_dn=low,
        median_dn=median,
        high_edge_dn=high,
        gap_period=period_of_gaps,
        gap_share=share_of_gaps,
        row_banding=row_banding(planes, cfa_height, variance),
        slope_across_dn=across,
        slope_down_dn=down,
        bottom_dn=float(plain[0]),
        bottom_share=float(times[0]) / n,
        code_step=code_step(codes, used, top_dn),
    )


def ordinary_codes(low_edge_dn: float, high_edge_dn: float) -> tuple[int, int]:
    """Lowest and highest code that isn't hot or dead: 1 and 99 % points moved apart by their span.

    For normal noise that is 7 standard deviations either way; 2 DN more for noise below one code.
    """
    span = high_edge_dn - low_edge_dn
    return max(0, int(low_edge_dn - span) - 2), min(65535, int(high_edge_dn + span) + 2)


def pair_variance(a_dn: Values, b_dn: Values, cfa: Cfa) -> dict[str, tuple[int, float]]:
    """Count of sample pairs and temporal variance in DN^2 per channel; see variance_of_pair."""
    if a_dn.shape != b_dn.shape:
        raise ValueError(f"the two patches differ in shape: {a_dn.shape}, {b_dn.shape}")
    return variance_of_pair(split_channels(a_dn, cfa), split_channels(b_dn, cfa))


def variance_of_pair(
    a: Mapping[str, Samples], b: Mapping[str, Samples]
) -> dict[str, tuple[int, float]]:
    """Count of sample pairs and temporal variance in DN^2 per channel, of two equal frames.

    sigma^2 = mean((A - B)^2)/2 - (mean A - mean B)^2/2 (EMVA 1288 Release 4.0 Linear, eq. 18, via
    emva1288 1.0.2): the second term takes out a change of light between the two. The change also
    scales the pattern and any slope of the light; of two frames that differ in level that part of
    A - B which follows (A + B)/2 is taken out as well (see pattern_share). Samples beyond 6
    robust standard deviations (half the way from the 15.9 to the 84.1 % point, half a code added
    for rounding) of A, of B or of A - B are left out in both: hot, dead and blinking pixels.
    """
    if not laid_out_alike(a, b):
        raise ValueError("the two patches differ in size or colour filter array")
    found = {}
    for channel in a:
        both = a[channel], b[channel]
        difference = np.subtract(*(samples.flat_dn() for samples in both), dtype=np.int32)
        kept = [mask for mask in map(_inliers, both) if mask is not None]
        if kept:
            difference = difference[np.logical_and.reduce(kept)]
        n, variance = _half_variance(difference)
        pattern = pattern_share(
            *(_moments(samples) for samples in both), half_variance_dn2=variance
        )
        found[channel] = n, variance - pattern
    return found


def pattern_share(
    a: tuple[float, float], b: tuple[float, float], *, half_variance_dn2: float
) -> float:
    """Return what scaling the pattern adds to the half variance of A - B, in DN^2; 0 or more.

    a, b: mean and variance of either frame. cov(D, S)^2 / (2 var S), with D = A - B and
    S = (A + B)/2: cov(D, S) = (var A - var B)/2, var S = (var A + var B)/2 - var(D)/4. Of frames
    equal within 1 % nothing is taken out: there chance rules.
    """
    (mean_a, variance_a), (mean_b, variance_b) = a, b
    spread = 0.5 * (variance_a + variance_b) - 0.5 * half_variance_dn2
    if abs(mean_a - mean_b) <= 0.01 * max(mean_a, mean_b) or spread <= 0.0:
        return 0.0
    covariance = 0.5 * (variance_a - variance_b)
    return min(0.5 * covariance**2 / spread, half_variance_dn2)


def _moments(samples: Samples) -> tuple[float, float]:
    """Mean and variance within 6 robust standard deviations."""
    n, mean, squares = _sums(samples.codes, samples.times)
    return mean, squares / n - mean * mean


def _half_variance(difference: NDArray[np.int32]) -> tuple[int, float]:
    """Count and half the variance (about the mean, ddof 0) of integers, outliers left out."""
    n, mean, squares = _sums(*codes_in_use(difference))
    return n, squares / (2.0 * n) - mean * mean / 2.0


def _sums(codes: NDArray[np.int64], times: NDArray[np.int64]) -> tuple[int, float, float]:
    """Count, mean and sum of squares within 6 robust standard deviations."""
    codes, times = _from_to(codes, times, *_ordinary(codes, times))
    n, total = int(times.sum()), int((codes * times).sum())
    return n, total / n, float((codes * codes * times).sum())


def neighbour_variance(planes: Planes) -> float:
    """Half the mean squared difference of next neighbours of one channel in a row, in DN^2."""
    total, n = 0, 0
    for left, right in neighbours(planes):
        difference = np.subtract(right, left, dtype=np.int32)
        difference *= difference  # below 2^32, so exact once read without a sign
        total += int(difference.view(np.uint32).sum(dtype=np.uint64))
        n += difference.size
    return total / (2.0 * n) if n else 0.0


def slopes_dn(planes: Planes, grid: int = 8) -> tuple[float, float, float]:
    """Change of level from left to right and from top to bottom, by a fitted plane, and the mean.

    In DN, signed, from edge to edge of the patch.
    """
    maps = []
    for plane in planes.values():
        rows, columns = min(grid, plane.shape[0]), min(grid, plane.shape[1])
        height, width = plane.shape[0] // rows, plane.shape[1] // columns
        strips = plane[: rows * height, : columns * width].reshape(rows, height, columns * width)
        blocks = strips.sum(axis=1, dtype=np.uint32).reshape(rows, columns, width)
        sums = blocks.sum(axis=2, dtype=np.float64)
        maps.append(sums / (height * width))
        covered = rows * height / plane.shape[0], columns * width / plane.shape[1]
    means = maps[0] if len(maps) == 1 else np.mean(maps, axis=0)
    across, down = (_slope(means.sum(axis=k) / means.shape[k]) / covered[1 - k] for k in (0, 1))
    return across, down, float(means.sum() / means.size)


def row_banding(planes: Planes, cfa_height: int, variance_dn2: float) -> float:
    """Standard deviation of the row means beyond noise and a straight slope, as a part of the mean.

    sqrt(var(row means, slope taken off) - variance inside rows / samples in a row) / mean; 0 where
    noise explains all of it.
    """
    at, means, samples = [], [], []
    for i, in_row in by_row(planes).items():
        n = sum(plane.shape[1] for plane in in_row)
        sums = sum(plane.sum(axis=1, dtype=np.int64) for plane in in_row)
        means.append(sums / n)
        at.append(i + cfa_height * np.arange(len(in_row[0])))
        samples.append(np.full(len(in_row[0]), n))
    position, mean, n_row = (np.concatenate(part) for part in (at, means, samples))
    rows, total = len(mean), float(n_row.sum())
    level = float((mean * n_row).sum() / total)
    if rows < 8 or level <= 0.0:
        return 0.0
    between = float((n_row * (mean - level) ** 2).sum())
    within = max(0.0, variance_dn2 * (total - 1.0) - between) / (total - rows)
    x = position - position.sum() / rows
    rest = mean - mean.sum() / rows - x * float(x @ mean) / float(x @ x)
    excess = float(rest @ rest) / (rows - 2) - within * float((1.0 / n_row).sum() / rows)
    return math.sqrt(max(0.0, excess)) / level


def _quantiles(
    codes: NDArray[np.int64], used: NDArray[np.int64], shares: tuple[float, ...]
) -> list[float]:
    """The lowest codes with at least those shares of the samples at or below them."""
    reached = used.cumsum()
    wanted = np.array(shares) * float(reached[-1]) * (1.0 - 1e-12)
    return [float(code) for code in codes[reached.searchsorted(wanted)]]


def _slope(means: NDArray[np.float64]) -> float:
    """Change of a least-squares line over block means from edge to edge."""
    n = len(means)
    if n < 2:
        return 0.0
    x = (np.arange(n) - (n - 1) / 2.0) / n
    return float(x @ means) / float(x @ x)


def _inliers(samples: Samples) -> NDArray[np.bool_] | None:
    """True within 6 robust standard deviations of the median; None where all samples are."""
    least, most = _ordinary(samples.codes, samples.times)
    if least <= samples.codes[0] and samples.codes[-1] <= most:
        return None
    values_dn = samples.flat_dn()
    return (values_dn >= least) & (values_dn <= most)


def _ordinary(codes: NDArray[np.int64], times: NDArray[np.int64]) -> tuple[int, int]:
    """Least and greatest code within 6 robust standard deviations of the median."""
    below, median, above = _quantiles(codes, times, (0.159, 0.5, 0.841))
    limit = standards.OUTLIER_SIGMAS * ((above - below) / 2.0 + 0.5)
    return math.ceil(median - limit), math.floor(median + limit)


def _from_to(
    codes: NDArray[np.int64], times: NDArray[np.int64], least: int, most: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The codes from the least to the greatest, and how often each occurs."""
    first, end = codes.searchsorted((least, most + 1))
    return codes[first:end], times[first:end]
