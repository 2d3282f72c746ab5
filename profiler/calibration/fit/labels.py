"""All ISO labels of one series fitted together: clip, black, straight part, line."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from profiler import standards
from profiler.calibration.fit.bend import Bend, Curvature, find_bend, find_curvature
from profiler.calibration.fit.black import BlackLevel, choose_black, judge_black, late_shutter_u_dn
from profiler.calibration.fit.clip import ClipFit, PatchCodes, find_clips
from profiler.calibration.fit.response import LineData, ResponseFit, fit_lines
from profiler.errors import MeasureError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from profiler.records import Flag

TIME_RULES = ("exact", "as-marked")


@dataclass(frozen=True, kw_only=True)
class LabelData:
    """Measured levels of one ISO label: n lit frames, c channels.

    placement_ev: time rule -> (n,); mean_dn and mean_u_dn (n, c); codes: one per channel;
    black: source name -> level (c,), standard uncertainty (c,). files: name of each frame;
    time (n,): index of its shutter time, the same for all labels; reading (n,): index of the
    reading that its placement rests on, with reading_u_ev its standard uncertainty; order (n,):
    place in the series, 0 to 1; time_s (n,): shutter times, infinite where they don't count.
    """

    iso: float
    channels: tuple[str, ...]
    placement_ev: Mapping[str, NDArray[np.float64]]
    mean_dn: NDArray[np.float64]
    mean_u_dn: NDArray[np.float64]
    codes: tuple[PatchCodes, ...]
    black: Mapping[str, tuple[NDArray[np.float64], NDArray[np.float64]]]
    files: tuple[str, ...]
    time: NDArray[np.int64]
    reading: NDArray[np.int64]
    reading_u_ev: float
    order: NDArray[np.float64]
    time_s: NDArray[np.float64] | None = None


@dataclass(frozen=True, kw_only=True)
class LabelFit:
    """Everything fitted at one ISO label; arrays in the order of `channels`."""

    iso: float
    channels: tuple[str, ...]
    placement_ev: NDArray[np.float64]
    black: BlackLevel
    clip: tuple[ClipFit, ...]
    bend: Bend
    curvature: Curvature
    response: ResponseFit
    flags: tuple[Flag, ...]


@dataclass(frozen=True, kw_only=True)
class SeriesFit:
    """All labels under one time rule, and how well each rule did.

    rms_ev: time rule -> rms deviation in EV. doubt: probability that the other rule is the right
    one (0 where both say the same). other: the labels under the other rule.
    """

    rule: str
    rms_ev: Mapping[str, float]
    doubt: float
    labels: tuple[LabelFit, ...]
    other: tuple[LabelFit, ...]


def fit_series(labels: Sequence[LabelData], rule: str = "best") -> SeriesFit:
    """Return the fit of all labels; `rule` is one of TIME_RULES or "best" (the likelier one).

    Exact times are held for likelier before looking, by standards.TIME_RULE_LOG_ODDS; the scatter
    of the shutter times under either rule then decides.
    """
    same = all(
        np.array_equal(label.placement_ev["exact"], label.placement_ev["as-marked"])
        for label in labels
    )
    fits = {"exact": _fit_labels(labels, "exact")}
    fits["as-marked"] = fits["exact"] if same else _fit_labels(labels, "as-marked")
    rms = {name: _rms(fit) for name, fit in fits.items()}
    log_odds = _marked_better(labels, fits) - standards.TIME_RULE_LOG_ODDS
    chosen = rule if rule != "best" else "as-marked" if log_odds > 0.0 else "exact"
    other = TIME_RULES[1 - TIME_RULES.index(chosen)]
    doubt = 0.0 if same or rule != "best" else 1.0 / (1.0 + math.exp(min(abs(log_odds), 50.0)))
    return SeriesFit(
        rule=chosen,
        rms_ev=rms,
        doubt=doubt,
        labels=fits[chosen],
        other=fits[other],
    )


def _marked_better(labels: Sequence[LabelData], fits: Mapping[str, Sequence[LabelFit]]) -> float:
    """Log of the likelihood of marked over that of exact times.

    Repeats of one time share its error, so each shutter time counts once: a profile likelihood
    of the mean deviations per time, with a floor so that luck can't decide.
    """
    floor = 0.1 * standards.SHUTTER_SCATTER_EV
    spread = {}
    times = 0
    for rule, of_rule in fits.items():
        used = [fit.response.kept & np.isfinite(fit.response.deviation_ev) for fit in of_rule]
        value = np.concatenate(
            [
                fit.response.deviation_ev[m]
                - (fit.response.deviation_ev[m].mean() if m.any() else 0)
                for fit, m in zip(of_rule, used, strict=True)
            ]
        )
        time = np.concatenate([label.time[m] for label, m in zip(labels, used, strict=True)])
        if value.size == 0:
            return 0.0
        _, index = np.unique(time, return_inverse=True)
        mean = np.bincount(index, weights=value) / np.bincount(index)
        spread[rule] = math.hypot(float(np.sqrt(np.mean(mean**2))), floor)
        times = mean.size
    return (times - 1) * math.log(spread["exact"] / spread["as-marked"])


def _fit_labels(labels: Sequence[LabelData], rule: str) -> tuple[LabelFit, ...]:
    prepared = [_prepare(label, label.placement_ev[rule]) for label in labels]
    responses = fit_lines([line for line, *_ in prepared])
    return tuple(
        LabelFit(
            iso=label.iso,
            channels=label.channels,
            placement_ev=label.placement_ev[rule],
            black=replace(
                black,
                dn=response.black_dn,
                u_dn=np.hypot(_black_u(response), _late(label, line, response, black)),
            ),
            clip=clip,
            bend=bend,
            curvature=find_curvature(
                line, response, np.array([end.level_dn for end in clip]) - response.black_dn
            ),
            response=response,
            flags=flags,
        )
        for label, (line, black, clip, bend, flags), response in zip(
            labels, prepared, responses, strict=True
        )
    )


def _prepare(
    label: LabelData, placement_ev: NDArray[np.float64]
) -> tuple[LineData, BlackLevel, tuple[ClipFit, ...], Bend, tuple[Flag, ...]]:
    """Clip, black, straight part: everything that the line needs."""
    black = choose_black(label.black, len(label.channels))
    known = black.dn if np.isfinite(black.u_dn).all() else None
    clip = find_clips(placement_ev, label.codes, known)
    clear = ~np.stack([end.spoiled for end in clip], axis=1)
    top = np.array([end.level_dn for end in clip])
    seen = np.array([end.seen for end in clip])
    flags: tuple[Flag, ...] = ()
    line, bend = _straight(label, placement_ev, black, top, clear, seen)
    _require_cells(label, line, clear)
    if np.isfinite(black.u_dn).all() and line.use.sum(axis=0).min() >= 4:
        # a light that drifts along the bracket looks like a wrong black
        unknown = np.full(black.dn.shape, np.inf)
        free = fit_lines([replace(line, black_u_dn=unknown, order=label.order)])[0]
        u_dn = _free_black_u(free, line)
        judged, flags = judge_black(black, free.black_dn, u_dn, free.scatter_dof)
        if judged.source != black.source:  # what was taken for a bend may have been black
            line, bend = _straight(label, placement_ev, judged, top, clear, seen)
            _require_cells(label, line, clear)
        black = judged
    return line, black, clip, bend, flags


def _require_cells(label: LabelData, line: LineData, clear: NDArray[np.bool_]) -> None:
    """Raise MeasureError where the frames of a channel can't determine its line."""
    use = line.use
    mend = "Shoot frames from 6 stops below clip up to 2 stops above it, by shutter time"
    where = f"ISO {label.iso:g}"
    if not use.any():
        raise MeasureError("no frame lies on the straight part between black and clip", where, mend)
    for k in np.flatnonzero(~use.any(axis=0)):
        touch = "each is too dark for it" if clear[:, k].any() else "all of them clip it"
        raise MeasureError(
            f"channel {label.channels[k]} has no frame on the straight part between black and "
            f"clip: of {len(label.files)} frames {touch}",
            where,
            "Light of a strong colour needs a longer bracket: add darker frames where a channel "
            "clips, brighter ones where it is too dark, or light the card whiter",
        )
    for k in np.flatnonzero(~np.isfinite(line.black_u_dn)):
        if np.unique(line.placement_ev[use[:, k]]).size < 2:
            raise MeasureError(
                f"the black level of channel {label.channels[k]} isn't known, and frames of one "
                "exposure can't tell it",
                where,
                "Add two lens-cap frames marked dark in the sheet, or other shutter times",
            )


def _straight(
    label: LabelData,
    placement_ev: NDArray[np.float64],
    black: BlackLevel,
    top_dn: NDArray[np.float64],
    clear: NDArray[np.bool_],
    seen: NDArray[np.bool_],
) -> tuple[LineData, Bend]:
    """The cells on the straight part, under the bend where there is one."""
    line = straight_cells(
        label, placement_ev, black, top_dn, clear, standards.LINE_HIGH_FRACTION, seen
    )
    if not line.use.any():
        return line, Bend(found=False, begin=1.0, limit=1.0, checked=0.0)
    bend = find_bend(line, top_dn - black.dn, clear & (seen | ~seen.any()))
    if bend.found:
        line = straight_cells(label, placement_ev, black, top_dn, clear, 0.95 * bend.begin, seen)
    return line, bend


def straight_cells(
    label: LabelData,
    placement_ev: NDArray[np.float64],
    black: BlackLevel,
    top_dn: NDArray[np.float64],
    clear: NDArray[np.bool_],
    high_part: float,
    clip_seen: NDArray[np.bool_],
) -> LineData:
    """Return the label's levels with the cells marked that lie between black and the knee.

    high_part: where the knee may begin, as a part of the span up to top_dn (c,); clear (n, c):
    cells that don't touch clip.
    """
    signal = label.mean_dn - black.dn
    span = top_dn - black.dn
    below_knee = (signal <= high_part * span) | ~clip_seen
    straight = (signal >= standards.LINE_LOW_FRACTION * span) & (signal > 0.0) & below_knee
    u = np.sqrt(
        label.mean_u_dn**2
        + standards.LEVEL_FLOOR_DN**2
        + (standards.LEVEL_FLOOR_FRACTION * signal) ** 2
    )
    return LineData(
        placement_ev=placement_ev,
        level_dn=label.mean_dn,
        level_u_dn=u,
        use=straight & clear,
        black_dn=black.dn,
        black_u_dn=black.u_dn,
        time=label.time,
        reading=label.reading,
        reading_u_ev=label.reading_u_ev,
    )


def _black_u(fit: ResponseFit) -> NDArray[np.float64]:
    return np.sqrt(np.diag(fit.covariance)[: fit.black_dn.size])


def _late(
    label: LabelData, line: LineData, fit: ResponseFit, black: BlackLevel
) -> NDArray[np.float64]:
    """What a late shutter may have put into a black that the line gave, (c,) in DN."""
    if black.source != "fit" or label.time_s is None:
        return np.zeros(fit.black_dn.shape)
    signal = fit.metered_dn * np.exp2(line.placement_ev)[:, None]
    return late_shutter_u_dn(signal, label.time_s, line.use & fit.kept[:, None])


def _free_black_u(fit: ResponseFit, line: LineData) -> NDArray[np.float64]:
    """Uncertainty (c,) of a black that the line alone told: scatter and errors of readings."""
    _, reading = np.unique(line.readings, return_inverse=True)
    moved = np.zeros((int(reading.max()) + 1, fit.black_dn.size))
    np.add.at(moved, reading, fit.influence[:, : fit.black_dn.size])
    shared = line.reading_u_ev**2 * np.sum(moved**2, axis=0)
    return np.asarray(np.sqrt(_black_u(fit) ** 2 + shared))


def _rms(fits: Sequence[LabelFit]) -> float:
    squares = [fit.response.deviation_ev[fit.response.kept] ** 2 for fit in fits]
    joined = np.concatenate(squares)
    return float(np.sqrt(joined.mean())) if joined.size else 0.0
