"""The sensor as a straight ruler: the light that each frame's card gave, whatever a meter said.

Black is known from elsewhere, so the level above it goes with the light. Whether it does so
straight up is asked of the same frames: channels of unlike level in one frame (fit/curvature.py).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from profiler import standards
from profiler.calibration.exposures import Exposure, given_ev
from profiler.calibration.fit.bend import Curvature, find_curvature
from profiler.calibration.fit.black import choose_black
from profiler.calibration.fit.clip import find_clips
from profiler.calibration.fit.labels import LabelData, straight_cells
from profiler.calibration.fit.response import LineData, fit_lines
from profiler.calibration.groups import patch_levels, shooting_order, with_true_pairs
from profiler.errors import MeasureError
from profiler.frames.dark_levels import black_candidates
from profiler.records import CHANNELS, FrameMeasure

_LN2 = math.log(2.0)
_STRAIGHT_U = standards.STRAIGHT_WITHIN / math.sqrt(3.0)


@dataclass(frozen=True, kw_only=True)
class Ruler:
    """Light on the card of n frames in the order of shooting, in EV above an unknown zero.

    light_ev (n,): of what the settings let through, nan where a frame's level lies near black or
    clip; noise_u_ev (n,): of its pixels; black_ev, curve_ev (n,): what one standard uncertainty of
    black and of the response's curve, shared by all frames, would change. curvature: what the
    channels say of the response. black_dn (c,): of the channels in the order of the frames' own.
    """

    frames: tuple[FrameMeasure, ...]
    exposures: tuple[Exposure, ...]
    light_ev: NDArray[np.float64]
    noise_u_ev: NDArray[np.float64]
    black_ev: NDArray[np.float64]
    curve_ev: NDArray[np.float64]
    curvature: Curvature
    black_dn: NDArray[np.float64]

    @property
    def seen(self) -> NDArray[np.bool_]:
        """Whether a frame's light can be told (n,)."""
        return np.isfinite(self.light_ev)


def read_light(
    frames: Sequence[FrameMeasure],
    exposures: Sequence[Exposure],
    rough_ev: Sequence[float],
    *,
    times: str = "exact",
    straight: bool = True,
) -> Ruler:
    """Return the light of the lit frames in use; frames and exposures may hold dark ones.

    rough_ev: light of each frame as far as anybody knows (a reading, or zero for a steady light);
    only what clips is judged by it. straight: refuse a response that the channels don't show to be
    straight. MeasureError where the frames aren't of one ISO label, or black isn't known.
    """
    place = shooting_order(frames)
    lit = sorted(
        (i for i, e in enumerate(exposures) if e.use and not e.dark),
        key=lambda i: place[frames[i].file],
    )
    if not lit:
        raise MeasureError("there is no lit frame", "the series", "Add frames of the lit card")
    isos = sorted({exposures[i].iso or 0 for i in lit})
    if len(isos) > 1:
        raise MeasureError(
            f"frames of several ISO labels ({', '.join(map(str, isos))})",
            "the series",
            "Shoot all of them at one label, or write no in the column 'use'",
        )
    used = with_true_pairs([(frames[i], exposures[i]) for i in lit])
    settings = tuple(exposures[i] for i in lit)
    darks = [f for f, e in zip(frames, exposures, strict=True) if e.use and e.dark]
    darks = [f for f in darks if f.channels.keys() == used[0].channels.keys()]
    names = used[0].channels
    channels = tuple(name for name in CHANNELS if name in names)
    given = np.array(given_ev(settings)[times])
    rough = np.array([rough_ev[i] for i in lit]) - given
    mean, mean_u, codes = patch_levels(used, channels)
    label = LabelData(
        iso=float(isos[0]),
        channels=channels,
        placement_ev={},
        mean_dn=mean,
        mean_u_dn=mean_u,
        codes=codes,
        black=black_candidates(used, darks, channels),
        files=tuple(f.file for f in used),
        time=np.arange(len(lit)),
        reading=np.zeros(len(lit), dtype=np.int64),
        reading_u_ev=0.0,
        order=np.linspace(0.0, 1.0, len(lit)),
    )
    black = choose_black(label.black, len(channels))
    if not np.isfinite(black.u_dn).all():
        raise MeasureError(
            "the black level isn't known, so dark levels can't be told from bright ones",
            "the series",
            "Add two lens-cap frames, marked dark in the sheet",
        )
    clip = find_clips(rough, codes, black.dn)
    clear = ~np.stack([end.spoiled for end in clip], axis=1)
    top = np.array([end.level_dn for end in clip])
    seen = np.array([end.seen for end in clip])
    # channels clip near one code: where one's wasn't seen, another's stands for it
    top = np.where(seen, top, np.max(top[seen] if seen.any() else top))
    known = np.full(seen.shape, bool(seen.any()))
    line = straight_cells(label, rough, black, top, clear, standards.LINE_HIGH_FRACTION, known)
    if not line.use.any(axis=0).all():
        raise MeasureError(
            "a channel has no frame between black and clip",
            "the series",
            "Shoot so that the card lies 1 to 7 stops below clip",
        )
    # twice: by the rough light, then by what the channels together say
    for _ in range(2):
        fit = fit_lines([line])[0]
        own = np.where(
            np.isfinite(fit.deviation_ev), fit.deviation_ev + line.placement_ev, line.placement_ev
        )
        line = replace(line, placement_ev=own)
    fit = fit_lines([line])[0]
    span = top - fit.black_dn
    curvature = find_curvature(line, fit, span)
    if straight:
        _check_straight(curvature, channels)
    part, black_ev = _sensitivities(line, fit.black_dn, black.u_dn, span)
    curve_u = math.hypot(curvature.part, curvature.u) if curvature.u < _STRAIGHT_U else _STRAIGHT_U
    return Ruler(
        frames=used,
        exposures=settings,
        light_ev=fit.deviation_ev + line.placement_ev + given,
        noise_u_ev=fit.deviation_u_ev,
        black_ev=black_ev,
        curve_ev=part * curve_u / _LN2,
        curvature=curvature,
        black_dn=np.array([fit.black_dn[channels.index(name)] for name in names]),
    )


def _check_straight(curvature: Curvature, channels: Sequence[str]) -> None:
    """Raise MeasureError where the frames don't show that the response is straight."""
    if curvature.seen:
        raise MeasureError(
            f"this body's response bends: {100.0 * curvature.part:.1f} % short at the top of the "
            "frames, by its channels",
            "the series",
            "A bent ruler can't judge a meter: use another body",
        )
    if not curvature.u < _STRAIGHT_U:
        why = (
            "a sensor of one channel can't show it"
            if len(channels) == 1
            else "its channels don't lie far enough apart in level, or there are too few bright "
            "frames"
        )
        raise MeasureError(
            f"nothing in these frames shows that this body's response is straight: {why}",
            "the series",
            "Use a body with colour channels, a light that sets them a stop apart (daylight on a "
            "grey card does), and some frames 1 to 2 stops below clip",
        )


def _sensitivities(
    line: LineData,
    black_dn: NDArray[np.float64],
    black_u_dn: NDArray[np.float64],
    span_dn: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Level (n,) as a part of the span, and EV (n,) that one uncertainty of black is worth.

    Both are means over a frame's channels, weighted as its light is.
    """
    signal = np.where(line.use, line.level_dn - black_dn, 1.0)
    weight = np.where(line.use, (signal / line.level_u_dn) ** 2, 0.0)
    total = np.maximum(weight.sum(axis=1), 1e-300)
    part = (weight * signal / span_dn).sum(axis=1) / total
    black_ev = (weight * black_u_dn / (signal * _LN2)).sum(axis=1) / total
    return np.asarray(part), np.asarray(black_ev)
