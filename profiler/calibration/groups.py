"""Measured frames sorted by ISO label into the arrays that fitting takes."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from profiler import standards
from profiler.calibration.exposures import Exposure, placements, shutter_times, taken_readings
from profiler.calibration.fit.clip import PatchCodes
from profiler.calibration.fit.labels import LabelData
from profiler.calibration.reading_error import reading_error
from profiler.errors import MeasureError
from profiler.exposure.modes import is_flash
from profiler.frames.dark_levels import black_candidates, true_level
from profiler.frames.pairs import level_distance, may_pair
from profiler.records import CHANNELS, FrameMeasure, Meter

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, kw_only=True)
class Group:
    """Frames of one ISO label that readings in one mode hold for, with its dark frames.

    order: place of each frame in the whole series, 0 first and 1 last.
    """

    iso: int
    mode: str
    frames: tuple[FrameMeasure, ...]
    exposures: tuple[Exposure, ...]
    darks: tuple[FrameMeasure, ...]
    order: tuple[float, ...]

    @property
    def channels(self) -> tuple[str, ...]:
        """Channels in the order R, G1, G, G2, B, Y."""
        names = self.frames[0].channels
        return tuple(name for name in CHANNELS if name in names) + tuple(
            sorted(set(names) - set(CHANNELS))
        )


def group_frames(
    frames: Sequence[FrameMeasure], exposures: Sequence[Exposure], mode: str
) -> list[Group]:
    """Return the groups of one mode by rising ISO label; frames not to be used are left out."""
    pairs = [(f, e) for f, e in zip(frames, exposures, strict=True) if e.use]
    lit = [(f, e) for f, e in pairs if not e.dark and mode in e.readings]
    places = shooting_order(frames)
    out = []
    for iso in sorted({e.iso for _, e in lit if e.iso is not None}):
        of_label = [(f, e) for f, e in lit if e.iso == iso]
        names = {frozenset(f.channels) for f, _ in of_label}
        if len(names) > 1:
            raise MeasureError(
                "frames of different colour mosaics stand in one series",
                f"ISO {iso}",
                "Keep each body's frames in a folder of its own",
            )
        darks = [(f, e) for f, e in pairs if e.dark and e.iso == iso]
        out.append(
            Group(
                iso=iso,
                mode=mode,
                frames=with_true_pairs(of_label),
                exposures=tuple(e for _, e in of_label),
                darks=with_true_pairs(darks),
                order=tuple(places[f.file] for f, _ in of_label),
            )
        )
    return out


def with_true_pairs(frames: Sequence[tuple[FrameMeasure, Exposure]]) -> tuple[FrameMeasure, ...]:
    """Return the frames, without the temporal variance where the partner differs.

    By this sheet it may have another light or other settings, or isn't to be used; frames of a
    table were perhaps measured under another sheet.
    """
    exposures = {frame.file: exposure for frame, exposure in frames}
    measures = {frame.file: frame for frame, _ in frames}
    out = []
    for frame, exposure in frames:
        partner = exposures.get(frame.pair)
        paired = not frame.pair or (
            partner is not None
            and may_pair(exposure, partner)
            and level_distance(frame, measures[frame.pair]) <= standards.PAIR_LEVEL_PART
        )
        out.append(frame if paired else _alone(frame))
    return tuple(out)


def _alone(frame: FrameMeasure) -> FrameMeasure:
    channels = {
        name: replace(channel, temporal_variance_dn2=None, pair_n=0)
        for name, channel in frame.channels.items()
    }
    return replace(frame, pair="", channels=channels)


def label_data(group: Group, meter: Meter) -> LabelData:
    """Return the arrays of one group: levels (n, c), placements under both time rules, black."""
    placement = placements(group.exposures, group.mode, meter)
    mean, mean_u, codes = patch_levels(group.frames, group.channels)
    return LabelData(
        iso=float(group.iso),
        channels=group.channels,
        placement_ev={rule: np.array(values) for rule, values in placement.items()},
        mean_dn=mean,
        mean_u_dn=mean_u,
        codes=codes,
        black=black_candidates(group.frames, group.darks, group.channels),
        files=tuple(frame.file for frame in group.frames),
        time=np.array(shutter_times(group.exposures, group.mode)),
        reading=np.array(taken_readings(group.exposures, group.order, group.mode, meter)),
        reading_u_ev=reading_error(group, meter).u_ev,
        order=np.array(group.order),
        time_s=np.array(
            [math.inf if is_flash(group.mode) else e.time_s or math.inf for e in group.exposures]
        ),
    )


def patch_levels(
    frames: Sequence[FrameMeasure], channels: Sequence[str]
) -> tuple[NDArray[np.float64], NDArray[np.float64], tuple[PatchCodes, ...]]:
    """Return levels (n, c) of the patches with their uncertainty in DN, and each channel's codes.

    A level of unknown noise is as uncertain as it is high.
    """
    cells = [[frame.channels[name] for name in channels] for frame in frames]
    levels = np.array([[true_level(cell) for cell in row] for row in cells])
    mean, mean_u = levels[:, :, 0], levels[:, :, 1]
    variance = np.array([[cell.variance_dn2 for cell in row] for row in cells])
    count = np.array([[float(cell.n) for cell in row] for row in cells])
    step = np.array([[float(max(cell.code_step, 1)) for cell in row] for row in cells])
    # of a published mean nobody knows the noise
    rounding = np.where(count > 1.0, rounding_u_dn(variance, step), 0.0)
    codes = tuple(
        PatchCodes(
            low_edge_dn=np.array([row[k].low_edge_dn for row in cells]),
            median_dn=np.array([row[k].median_dn for row in cells]),
            high_edge_dn=np.array([row[k].high_edge_dn for row in cells]),
            top_share=np.array([row[k].top_share for row in cells]),
        )
        for k in range(len(channels))
    )
    return mean, np.hypot(np.where(np.isfinite(mean_u), mean_u, mean), rounding), codes


def by_name(frames: Sequence[FrameMeasure]) -> tuple[FrameMeasure, ...]:
    """Return the frames by name, numbers in it as numbers; sums over them are then always the same.

    The order in which files were listed would otherwise show in the last digits.
    """

    def key(frame: FrameMeasure) -> list[tuple[int, str]]:
        parts = re.split(r"(\d+)", frame.file)
        return [(int(part) if part.isdecimal() else -1, part) for part in parts]

    return tuple(sorted(frames, key=key))


def shooting_order(frames: Sequence[FrameMeasure]) -> dict[str, float]:
    """Return file -> place in the series, 0 first and 1 last, by time taken where all tell it."""
    times = [frame.tags.taken_at for frame in frames]
    keys = [
        (str(tag.value) if tag is not None and None not in times else "", frame.file)
        for tag, frame in zip(times, frames, strict=True)
    ]
    ranked = sorted(range(len(frames)), key=lambda i: keys[i])
    last = max(len(frames) - 1, 1)
    return {frames[i].file: rank / last for rank, i in enumerate(ranked)}


def rounding_u_dn(
    variance_dn2: NDArray[np.float64], step_dn: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the standard uncertainty in DN that rounding leaves in means over a patch.

    Noise s carries a level over the edges of a code, and the mean of many pixels comes right. What
    is left is a wave over the level with the amplitude q/pi exp(-2 pi^2 s^2/q^2), q the step: the
    first term of the Fourier series of the rounding error, each term damped by the noise. Without
    noise the error is a rectangle, q/sqrt(12); that much is damped likewise. Noise: the variance
    found, less the q^2/12 that rounding adds on average. Below 0.3 q of noise the result is up to
    three times the true one, since a patch in the middle of a code shows less noise than it has.
    """
    noise_dn2 = np.maximum(variance_dn2 - step_dn**2 / 12.0, 0.0)
    damped = np.exp(-2.0 * math.pi**2 * noise_dn2 / np.maximum(step_dn, 1e-9) ** 2)
    u: NDArray[np.float64] = step_dn / math.sqrt(12.0) * damped
    return u
