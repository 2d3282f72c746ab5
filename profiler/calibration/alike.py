"""Whether the frames of a series were recorded alike."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from profiler import standards
from profiler.calibration.exposures import Exposure
from profiler.calibration.fit.labels import LabelFit
from profiler.calibration.fit.slips import two_groups
from profiler.calibration.groups import Group
from profiler.errors import MeasureError, SheetError
from profiler.records import FrameMeasure

_BAYER = ("R", "G1", "G2", "B")
_SHIFTS = {"a column": (1, 0, 3, 2), "a row": (2, 3, 0, 1), "a row and a column": (3, 2, 1, 0)}
"""Which channel of _BAYER lands where the name of another is, one pixel aside."""


def check_one_depth(groups: Sequence[Group]) -> None:
    """Raise MeasureError where a label's frames are coded in steps of different width.

    A series that uses every fourth code throughout is 12 bits in a file of 14, and fine; where some
    frames use more, a burst or a silent shutter dropped bits of the others. Frames flagged for a
    lossy coding are left out: its steps widen with the level.
    """
    for group in groups:
        frames = [f for f in (*group.frames, *group.darks) if not _is_lossy(f)]
        for name in group.channels:
            steps: dict[int, str] = {}
            for frame in frames:
                if name in frame.channels and frame.channels[name].code_step > 0:
                    steps.setdefault(frame.channels[name].code_step, frame.file)
            if len(steps) > 1:
                coarse, fine = max(steps), min(steps)
                width = "single steps" if fine == 1 else f"steps of {fine}"
                raise MeasureError(
                    f"{steps[coarse]} is coded in steps of {coarse}, {steps[fine]} in {width}",
                    f"ISO {group.iso}",
                    "Bursts, brackets and silent shutters may drop bits: shoot all frames in "
                    "the drive and shutter mode that you work in",
                )


def check_one_mosaic(frames: Sequence[FrameMeasure], exposures: Sequence[Exposure]) -> None:
    """Raise MeasureError where a frame's colours begin at another place than the others'."""
    seen: dict[str, list[str]] = {}
    for frame, exposure in zip(frames, exposures, strict=True):
        if exposure.use and frame.cfa:
            seen.setdefault(frame.cfa, []).append(frame.file)
    if len(seen) > 1:
        common, odd = sorted(seen, key=lambda cfa: -len(seen[cfa]))[:2]
        raise MeasureError(
            f"its colour mosaic begins {odd}, that of {seen[common][0]} {common}",
            seen[odd][0],
            "The frames of one body begin alike: leave out those that were cropped or turned, or "
            "correct the column 'cfa' of the sheet",
        )


def check_one_phase(groups: Sequence[Group]) -> None:
    """Raise MeasureError where the levels of a frame say that its colours begin a pixel aside.

    Levels are b + m_c E: whatever the exposure E and a common black b, their differences from the
    mean over the channels point one way. A frame whose differences point that way only once the
    channels are changed about as a shift by a pixel does has its colours named wrongly.
    """
    for group in groups:
        if set(group.channels) != set(_BAYER):
            continue
        frames = _clear(group.frames)
        directions = [_direction(frame) for frame in frames]
        told = [d for d in directions if d is not None]
        if len(told) < standards.PHASE_MIN_FRAMES:
            continue
        usual = np.median(np.array(told), axis=0)
        usual /= max(float(np.linalg.norm(usual)), 1e-12)
        for frame, direction in zip(frames, directions, strict=True):
            if direction is None or float(direction @ usual) > standards.PHASE_UNLIKE:
                continue
            for shift, places in _SHIFTS.items():
                if float(direction[list(places)] @ usual) > standards.PHASE_LIKE:
                    raise MeasureError(
                        f"its colours stand {shift} aside from those of the other frames",
                        frame.file,
                        "It was cropped, turned or lit in another colour: leave it out, or correct "
                        "the column 'cfa' of the sheet",
                    )


def _is_lossy(frame: FrameMeasure) -> bool:
    return any(flag.name == "lossy-coding" for flag in frame.flags)


def _clear(frames: Sequence[FrameMeasure]) -> list[FrameMeasure]:
    """Frames that stay clear of the highest level seen, which may be clip."""
    highest = max(c.high_edge_dn for frame in frames for c in frame.channels.values())
    limit = standards.PHASE_HIGHEST_SHARE * highest
    return [f for f in frames if all(c.high_edge_dn < limit for c in f.channels.values())]


def _direction(frame: FrameMeasure) -> NDArray[np.float64] | None:
    """The channels' differences from their mean, scaled to 1; None where they are too small."""
    levels_dn = np.array([frame.channels[name].mean_dn for name in _BAYER])
    apart_dn = levels_dn - levels_dn.mean()
    length_dn = float(np.linalg.norm(apart_dn))
    if length_dn < standards.PHASE_LEAST_DN:
        return None
    scaled: NDArray[np.float64] = apart_dn / length_dn
    return scaled


def check_one_camera(
    frames: Sequence[FrameMeasure], exposures: Sequence[Exposure], *, lenses: bool = False
) -> None:
    """Raise SheetError where the series mixes bodies, sensors or (unless `lenses`) lenses."""
    fields = [("make", "bodies"), ("model", "bodies"), ("serial", "bodies")]
    for field, plural in fields if lenses else [*fields, ("lens", "lenses")]:
        seen: dict[str, str] = {}
        for frame, exposure in zip(frames, exposures, strict=True):
            tag = getattr(frame.tags, field)
            if exposure.use and tag is not None:
                seen.setdefault(str(tag.value), frame.file)
        if len(seen) > 1:
            (first, first_file), (second, second_file) = list(seen.items())[:2]
            raise SheetError(
                f"the series mixes {plural}: {first_file} says {first!r}, "
                f"{second_file} says {second!r} ({field})",
                "the series",
                "Keep each in a folder of its own, or write no in the column 'use'",
            )
    used = [f for f, exposure in zip(frames, exposures, strict=True) if exposure.use]
    for frame in used:
        if frame.channels.keys() != used[0].channels.keys():
            raise SheetError(
                f"the channels differ: {used[0].file} has {', '.join(used[0].channels)}, "
                f"{frame.file} has {', '.join(frame.channels) or 'none'}",
                "the series",
                "Keep frames of one sensor in a folder, dark frames too, or write no in 'use'",
            )


def check_one_group(groups: Sequence[Group], fits: Sequence[LabelFit]) -> None:
    """Raise MeasureError where the frames of a label fall into two groups stops apart."""
    for group, fit in zip(groups, fits, strict=True):
        gap = two_groups(fit.response.deviation_ev)
        if gap > 0.0:
            middle = float(np.nanmean(fit.response.deviation_ev))
            odd = [
                frame.file
                for frame, deviation in zip(group.frames, fit.response.deviation_ev, strict=True)
                if deviation > middle
            ]
            raise MeasureError(
                f"the frames fall into two groups {gap:.1f} stops apart "
                f"({odd[0]} and {len(odd) - 1} more got more light than the others)",
                f"ISO {group.iso}",
                "Was the ISO label, the aperture or a filter changed on the way? "
                "Correct it in the sheet, or write no in the column 'use'",
            )
