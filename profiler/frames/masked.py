"""Level of the pixels at the border of the sensor that see no light."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from profiler import standards
from profiler.calibration.fit.cut import is_cut, uncut
from profiler.calibration.fit.quantiles import MAD_TO_SD, quantile
from profiler.frames.cfa import Cfa, channels, period, phases
from profiler.frames.gaps import codes_in_use
from profiler.frames.integrity import white_is_known
from profiler.records import Masked


class Active(NamedTuple):
    """The image inside the whole readout: first row and column, height and width, in pixels."""

    top: int
    left: int
    height: int
    width: int


def masked_levels(
    readout_dn: NDArray[np.uint16], active: Active, cfa: Cfa, black_dn: float, white_dn: float
) -> dict[str, Masked]:
    """Count, mean and standard deviation of the masked pixels per channel, in DN.

    Each border at least 8 px wide is sampled, away from the image, into which light leaks, and
    from the outermost pixels. A border of constant filling, or as bright as an image, is passed
    over. Of those left the clean and large one counts, pooled with those that agree with it; of
    borders of nearly one size the darkest, since light can only add. Empty where none is left.
    """
    image_dn = _image_median(readout_dn, active)
    borders = []
    for area in _borders(readout_dn.shape, active):
        samples = {
            channel: _sample(readout_dn, area, active, phases(cfa, channel), period(cfa))
            for channel in channels(cfa)
        }
        values = np.concatenate(list(samples.values()))
        if _plausible(values, image_dn, black_dn, white_dn):
            kept = {c: _without_outliers(s) for c, s in samples.items()}
            clean = _is_clean(readout_dn, area, active, cfa)
            borders.append(_Border(samples=kept, pixels=_pixels(area), clean=clean))
    if not borders:
        return {}
    best = _best(borders)
    pooled = [
        border
        for border in borders
        if abs(border.mean_dn - best.mean_dn) <= standards.MASKED_SPREAD_DN
        and (border.clean or not best.clean)
    ]
    return {
        c: masked_of(np.concatenate([border.samples[c] for border in pooled]))
        for c in channels(cfa)
    }


class _Border(NamedTuple):
    """One border: samples per channel without outliers, its size, and whether no light leaks in."""

    samples: dict[str, NDArray[np.float64]]
    pixels: int
    clean: bool

    @property
    def mean_dn(self) -> float:
        """Mean over the channels."""
        return float(np.mean([s.mean() for s in self.samples.values()]))


def _best(borders: list[_Border]) -> _Border:
    """The darkest of the large ones among the clean ones, or among all where none is clean."""
    clean = [border for border in borders if border.clean] or borders
    largest = max(border.pixels for border in clean)
    large = [b for b in clean if b.pixels >= standards.MASKED_LARGE_PART * largest]
    return min(large, key=lambda border: border.mean_dn)


Area = tuple[int, int, int, int]
"""First row, row after the last, first column, column after the last."""


def _pixels(area: Area) -> int:
    return (area[1] - area[0]) * (area[3] - area[2])


def _is_clean(readout_dn: NDArray[np.uint16], area: Area, active: Active, cfa: Cfa) -> bool:
    """Whether the half of a border nearest to the image is as dark as the outer one.

    A border too narrow to be halved shows no leak, and counts as clean.
    """
    row0, row1, column0, column1 = area
    high, wide = period(cfa)
    beside = column1 <= active.left or column0 >= active.left + active.width
    if beside:
        middle = (column0 + column1) // 2
        halves = [(row0, row1, column0, middle), (row0, row1, middle, column1)]
        narrow = column1 - column0 < 2 * wide
    else:
        middle = (row0 + row1) // 2
        halves = [(row0, middle, column0, column1), (middle, row1, column0, column1)]
        narrow = row1 - row0 < 2 * high
    if narrow:
        return True
    for channel in channels(cfa):
        one, other = (
            _without_outliers(_sample(readout_dn, half, active, phases(cfa, channel), period(cfa)))
            for half in halves
        )
        chance = math.hypot(one.std() / math.sqrt(one.size), other.std() / math.sqrt(other.size))
        if abs(one.mean() - other.mean()) > max(standards.MASKED_LEAK_DN, 4.0 * chance):
            return False
    return True


def _borders(shape: tuple[int, ...], active: Active) -> list[Area]:
    """The areas of the borders wide enough, guards taken off."""
    outer, guard = standards.MASKED_OUTER_PX, standards.MASKED_GUARD_PX
    bottom, right = active.top + active.height, active.left + active.width
    wide = standards.MASKED_MIN_MARGIN_PX
    found = []
    if active.left >= wide:
        found.append((active.top, bottom, outer, active.left - guard))
    if shape[1] - right >= wide:
        found.append((active.top, bottom, right + guard, shape[1] - outer))
    if active.top >= wide:
        found.append((outer, active.top - guard, active.left, right))
    if shape[0] - bottom >= wide:
        found.append((bottom + guard, shape[0] - outer, active.left, right))
    return found


def _sample(
    readout_dn: NDArray[np.uint16],
    border: Area,
    active: Active,
    offsets: list[tuple[int, int]],
    cfa_period: tuple[int, int],
) -> NDArray[np.uint16]:
    """Values of one channel in a border, whole periods left out where it is long.

    Python's modulo keeps the phase right on either side of the image's first pixel.
    """
    high, wide = cfa_period
    row0, row1, column0, column1 = border
    row_step = high * max(1, (row1 - row0) // (high * standards.MASKED_SAMPLES))
    column_step = wide * max(1, (column1 - column0) // (wide * standards.MASKED_SAMPLES))
    parts = []
    for i, j in offsets:
        first_row = row0 + (i - (row0 - active.top)) % high
        first_column = column0 + (j - (column0 - active.left)) % wide
        parts.append(readout_dn[first_row:row1:row_step, first_column:column1:column_step].ravel())
    return np.concatenate(parts)


def _image_median(readout_dn: NDArray[np.uint16], active: Active) -> float:
    """Median of about 10 000 pixels of the image, in DN."""
    rows = slice(active.top, active.top + active.height, max(1, active.height // 101))
    columns = slice(active.left, active.left + active.width, max(1, active.width // 101))
    return _median(*codes_in_use(readout_dn[rows, columns].ravel()))


def _plausible(
    values: NDArray[np.uint16], image_dn: float, black_dn: float, white_dn: float
) -> bool:
    """True for the values of pixels in the dark, False for filling and for parts of the image.

    Near the black tag they are taken at once; a higher level, in case the tag is wrong, only where
    it is clearly below the image's.
    """
    low, high = int(values.min()), int(values.max())
    if low == high and (low == 0 or abs(low - black_dn) > standards.MASKED_SPREAD_DN):
        return False
    if black_dn > standards.MASKED_SPREAD_DN and np.mean(values == 0) > 0.5:
        return False
    median = _median(*codes_in_use(values))
    if median <= 1.5 * black_dn + standards.MASKED_SPREAD_DN:
        return True
    top_dn = white_dn if white_is_known(white_dn) else 65535.0
    return median <= min(standards.MASKED_HIGHEST_SHARE * top_dn, 0.8 * image_dn)


def _without_outliers(values: NDArray[np.uint16]) -> NDArray[np.float64]:
    """The values within 6 robust standard deviations (at least 1 DN each) of their median.

    Of the median distance and the upper side's, the wider counts: the lower side may be cut off.
    """
    codes, times = codes_in_use(values)
    middle = _median(codes, times)
    distance = np.abs(codes - middle)
    outwards = np.argsort(distance)
    reached = np.cumsum(times)
    upper = float(codes[np.searchsorted(reached, 0.841 * reached[-1])]) - middle
    sigma = max(1.0, MAD_TO_SD * _median(distance[outwards], times[outwards]), upper)
    kept = np.abs(values - middle) <= standards.OUTLIER_SIGMAS * sigma
    exact: NDArray[np.float64] = values[kept].astype(np.float64)
    return exact


def _median(values: NDArray[Any], times: NDArray[np.int64]) -> float:
    """Median of rising values that occur `times` each, without making a list of them all."""
    reached = np.cumsum(times)
    n = int(reached[-1])
    low, high = values[np.searchsorted(reached, [(n - 1) // 2, n // 2], side="right")]
    return (float(low) + float(high)) / 2.0


def masked_of(values_dn: NDArray[np.float64]) -> Masked:
    """Return the statistics of one channel's masked pixels; a cut of their noise is undone."""
    n = int(values_dn.size)
    mean, sd = float(values_dn.mean()), float(values_dn.std(ddof=1)) if n > 1 else 0.0
    codes, times = codes_in_use(values_dn.astype(np.int64))
    bottom, share = float(codes[0]), float(times[0]) / n
    middle, high = quantile(values_dn, 0.5), quantile(values_dn, 0.99)
    gap = float(np.diff(codes).min()) if codes.size > 1 else 1.0
    if not is_cut(bottom, share, middle, high, gap):
        return Masked(n=n, mean_dn=mean, sd_dn=sd)
    before = uncut(mean, bottom, share)
    if before is None:
        return Masked(n=n, mean_dn=mean, sd_dn=sd, cut_share=share)
    return Masked(n=n, mean_dn=before.mean_dn, sd_dn=before.sd_dn, cut_share=share)
