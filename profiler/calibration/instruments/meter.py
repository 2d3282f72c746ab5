"""A handheld meter measured by a sensor: how it strays over its range, and repeats itself.

    deviation at level k = what the meter measured there - what the sensor saw there - their mean

The mean belongs to the pair of body and meter: it is in the offset, and no error of the meter.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from profiler import standards
from profiler.calibration.alike import check_one_camera
from profiler.calibration.exposures import Exposure, display_step_ev, join_all, require
from profiler.calibration.fit import budget
from profiler.calibration.fit.student import normal_quantile
from profiler.calibration.groups import shooting_order
from profiler.calibration.instruments.light_levels import (
    Levels,
    Shared,
    frame_scatter,
    solve_levels,
)
from profiler.calibration.instruments.rounded import (
    Repeatability,
    Spread,
    behind_readings,
    difference,
    interval,
)
from profiler.calibration.instruments.ruler import Ruler, read_light
from profiler.errors import MeasureError, SheetError
from profiler.exposure.modes import is_flash
from profiler.files.sheet import Sheet, check_files
from profiler.records import Estimate, Linearity, Measurement, Meter

_RECTANGLE = math.sqrt(3.0)


@dataclass(frozen=True, kw_only=True)
class MeterLevel:
    """One light level: what the meter showed there, and how far that strays from its mean.

    shown_ev100: mean of the readings, EV at ISO 100. deviation_ev: positive where the meter shows
    more than elsewhere.
    """

    shown_ev100: float
    deviation_ev: Estimate
    readings: tuple[str, ...]
    frames: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class MeterCheck:
    """A meter over its range, by a sensor that was shown to be straight.

    meter: with what was found filled in. repeatability: of one reading, standard deviation before
    rounding. step_ev: of the display; step_told: whether the meter's file says it. frame_scatter_ev
    with frame_dof (None: not measured, but known): of the
    shutter, taken off. straight_percent: limits (two standard uncertainties)
    within which the sensor was shown to be straight at the top of the frames. left_out: frames near
    black or clip.
    """

    mode: str
    meter: Meter
    levels: tuple[MeterLevel, ...]
    repeatability: Repeatability
    step_ev: float
    step_told: bool
    frame_scatter_ev: float
    frame_dof: float | None
    straight_percent: float
    left_out: tuple[str, ...]

    @property
    def strays(self) -> bool:
        """Whether a level, or a slope over them, lies further from none than chance would."""
        return _beyond_chance([(lv.shown_ev100, lv.deviation_ev) for lv in self.levels])


@dataclass(frozen=True, kw_only=True)
class DifferenceLevel:
    """One light level: how much more the one meter shows there than the other."""

    shown_ev100: float
    difference_ev: Estimate


@dataclass(frozen=True, kw_only=True)
class MetersCompared:
    """Two meters that read the light of the same frames: one less other, by level, on average."""

    mode: str
    one: MeterCheck
    other: MeterCheck
    mean_ev: Estimate
    levels: tuple[DifferenceLevel, ...]

    @property
    def differ(self) -> bool:
        """Whether the difference changes over level, by more than chance."""
        return _beyond_chance([(lv.shown_ev100, lv.difference_ev) for lv in self.levels])


@dataclass(frozen=True, kw_only=True)
class _Grouped:
    """Frames of one ruler by light level; group (n,), -1 for a frame that can't be told."""

    ruler: Ruler
    group: NDArray[np.int64]
    levels: Levels


def check_meter(
    measurement: Measurement,
    sheet: Sheet,
    *,
    mode: str | None = None,
    meter: Meter | None = None,
    electronic_shutter: bool = False,
    times: str = "exact",
) -> MeterCheck:
    """Return how a meter strays over its range, from frames of the card at many light levels.

    Every row with a reading is a reading taken anew; a frame without one stands in the light of the
    frame before it. mode: needed where the sheet holds several. electronic_shutter: the shutter's
    scatter and times are below ELECTRONIC_SCATTER_EV, so that no repeats are needed to tell it.
    MeasureError where levels, repeats or the body's straightness are lacking.
    """
    meter = meter or Meter()
    exposures, mode = _exposures(measurement, sheet, mode)
    grouped = _group(measurement, exposures, mode, electronic_shutter, times)
    return _judge(grouped, mode, meter, {e.file: e for e in exposures})[0]


def compare_meters(
    measurement: Measurement,
    sheet: Sheet,
    other_sheet: Sheet,
    *,
    mode: str | None = None,
    meter: Meter | None = None,
    other_meter: Meter | None = None,
    electronic_shutter: bool = False,
    times: str = "exact",
) -> MetersCompared:
    """Return how two meters differ that read the light of the same frames, each in its own sheet.

    The light itself drops out, so their differences are known better than either's deviations.
    """
    exposures, mode = _exposures(measurement, sheet, mode)
    others, _ = _exposures(measurement, other_sheet, mode)
    grouped = _group(measurement, exposures, mode, electronic_shutter, times)
    one, ones = _judge(grouped, mode, meter or Meter(), {e.file: e for e in exposures})
    other, them = _judge(grouped, mode, other_meter or Meter(), {e.file: e for e in others})
    both = [k for k in ones if k in them]
    if len(both) < 2:
        raise SheetError(
            "the two sheets hold readings of fewer than two light levels in common",
            other_sheet.name,
            "Write the other meter's readings of the same frames there",
        )
    apart = {k: difference(ones[k], them[k]) for k in both}
    levels = [
        DifferenceLevel(shown_ev100=ones[k].mean, difference_ev=_estimate(apart[k], 1.0, 0.0))
        for k in both
    ]
    mean = math.fsum(each.mean for each in apart.values()) / len(both)
    u = math.sqrt(math.fsum(each.u**2 for each in apart.values())) / len(both)
    return MetersCompared(
        mode=mode,
        one=one,
        other=other,
        mean_ev=budget.expand(mean, u, math.inf),
        levels=tuple(sorted(levels, key=lambda level: level.shown_ev100)),
    )


def _exposures(
    measurement: Measurement, sheet: Sheet, mode: str | None
) -> tuple[list[Exposure], str]:
    """The exposures in the order of the measurement, and the one mode of their readings."""
    check_files(sheet, [frame.file for frame in measurement.frames])
    exposures = join_all(sheet, measurement.frames)
    held = sorted({m for e in exposures if e.use for m in e.readings})
    if mode is not None and mode not in held:
        raise SheetError(
            f"it holds no reading by {mode}", sheet.name, f"It holds {', '.join(held) or 'none'}"
        )
    if mode is None and len(held) != 1:
        raise SheetError(
            f"it holds readings by {' and '.join(held)}" if held else "no frame has a reading",
            sheet.name,
            "Say which {mode} is meant" if held else "Write what the meter showed at each level",
            "mode" if held else "",
        )
    chosen = mode or held[0]
    if is_flash(chosen):
        raise SheetError(
            "a flash's light differs from pop to pop",
            f"mode {chosen}",
            "Measure the meter under a steady light",
        )
    require(exposures, sheet.name, as_lit=True)
    check_one_camera(measurement.frames, exposures)
    return exposures, chosen


def _group(
    measurement: Measurement,
    exposures: Sequence[Exposure],
    mode: str,
    electronic_shutter: bool,
    times: str,
) -> _Grouped:
    """The light of the frames, and which of them stand under one light."""
    ruler = read_light(
        measurement.frames, exposures, _rough(measurement, exposures, mode), times=times
    )
    seen = ruler.seen
    group = np.full(seen.size, -1)
    count, last = 0, math.nan
    for i in np.flatnonzero(seen):
        if not abs(ruler.light_ev[i] - last) <= standards.LEVEL_GAP_EV:
            count += 1
        group[i] = count - 1
        last = float(np.mean(ruler.light_ev[seen & (group == count - 1)]))
    if count < standards.LEAST_LEVELS:
        raise MeasureError(
            f"the frames show {count} light level{'s' if count != 1 else ''} that can be told",
            "the series",
            f"Move the lamp or its filters to {standards.LEAST_LEVELS} levels at least, half a "
            "stop or more apart, the card 1 to 7 stops below clip",
        )
    times_s = np.array([round(1e3 * math.log2(e.time_s or 1.0)) for e in ruler.exposures])
    scatter, dof = _scatter(ruler, group, times_s, electronic_shutter)
    settings = [f"{e.t_stop} {e.f_number} {e.nd_stops}" for e in ruler.exposures]
    _, setting = np.unique(settings, return_inverse=True)
    whole = np.zeros(seen.size, dtype=np.int64)
    levels = solve_levels(
        ruler.light_ev[seen],
        ruler.noise_u_ev[seen],
        group[seen],
        [
            Shared(
                index=times_s[seen],
                u_ev=0.0 if electronic_shutter else standards.SHUTTER_SCATTER_EV,
            ),
            Shared(index=setting[seen], u_ev=standards.APERTURE_MARK_EV / _RECTANGLE),
            Shared(index=whole[seen], u_ev=1.0, amount=ruler.black_ev[seen]),
            Shared(index=whole[seen], u_ev=1.0, amount=ruler.curve_ev[seen]),
        ],
        scatter_ev=scatter,
        dof=dof,
    )
    return _Grouped(ruler=ruler, group=group, levels=levels)


def _rough(measurement: Measurement, exposures: Sequence[Exposure], mode: str) -> list[float]:
    """Light of each frame by its own reading, else by that of the frame before it (or after)."""
    place = shooting_order(measurement.frames)
    order = sorted(range(len(exposures)), key=lambda i: place[measurement.frames[i].file])
    out = [math.nan] * len(exposures)
    for way in (order, order[::-1]):
        last = math.nan
        for i in way:
            if exposures[i].own_reading and mode in exposures[i].readings:
                values = [r.metered_ev100(mode, Meter()) for r in exposures[i].readings[mode]]
                last = math.fsum(values) / len(values)
            if math.isnan(out[i]):
                out[i] = last
    if all(math.isnan(value) for value in out):
        raise SheetError(
            "no frame has a reading of its own",
            "the sheet",
            "At each light level write what the meter showed beside the frame's name: a reading "
            "for the file * holds for one light only",
        )
    return out


def _scatter(
    ruler: Ruler, group: NDArray[np.int64], times: NDArray[np.int64], electronic: bool
) -> tuple[float, float]:
    """The scatter of one frame's exposure, from repeats; of an electronic shutter also without."""
    seen = ruler.seen
    _, repeats = np.unique(np.stack([group[seen], times[seen]]), axis=1, return_inverse=True)
    return frame_scatter(
        ruler.light_ev[seen],
        ruler.noise_u_ev[seen],
        repeats.ravel(),
        electronic=electronic,
        lacking="no light level has two frames of one shutter time, so the shutter's scatter can't "
        "be told from the meter's",
        mend="Shoot each level twice or more",
    )


def _judge(
    grouped: _Grouped, mode: str, meter: Meter, exposures: dict[str, Exposure]
) -> tuple[MeterCheck, dict[int, Spread]]:
    """The meter's figures, and where its own value lay at each group of frames."""
    ruler, group = grouped.ruler, grouped.group
    plain = replace(meter, linearity={})
    readings: dict[int, list[float]] = {}
    texts: dict[int, tuple[str, ...]] = {}
    for k, frame in zip(group, ruler.frames, strict=True):
        own = exposures[frame.file]
        if k < 0 or not own.own_reading or mode not in own.readings:
            continue
        readings.setdefault(int(k), []).extend(
            reading.metered_ev100(mode, plain) for reading in own.readings[mode]
        )
        texts[int(k)] = texts.get(int(k), ()) + own.texts[mode]
    levels = sorted(readings)
    anew = sum(len(values) - 1 for values in readings.values())
    if len(levels) < standards.LEAST_LEVELS or anew < standards.LEAST_REPEATS:
        raise SheetError(
            f"{len(levels)} light levels with a reading, and {anew} readings beyond the first of "
            "a level",
            "the sheet",
            f"Read the meter at {standards.LEAST_LEVELS} levels or more, twice at most of them: "
            "a row of the sheet for each reading taken anew",
        )
    step_ev = display_step_ev(list(exposures.values()), mode, meter)
    spreads, repeatability = behind_readings([readings[k] for k in levels], step_ev)
    count = len(levels)
    rows = []
    for place, (k, spread) in enumerate(zip(levels, spreads, strict=True)):
        share = np.full(count, -1.0 / count)
        share[place] += 1.0
        light = np.zeros(grouped.levels.light_ev.size)
        light[levels] = -share
        seen_ev, light_u = grouped.levels.difference(light)
        others = math.sqrt(math.fsum(each.u**2 for each in spreads if each is not spread)) / count
        rest = math.fsum(each.mean for each in spreads if each is not spread) / count
        found = _estimate(spread, 1.0 - 1.0 / count, math.hypot(light_u, others), seen_ev - rest)
        rows.append(
            MeterLevel(
                shown_ev100=math.fsum(readings[k]) / len(readings[k]),
                deviation_ev=found,
                readings=texts[k],
                frames=tuple(f.file for f, g in zip(ruler.frames, group, strict=True) if g == k),
            )
        )
    rows.sort(key=lambda row: row.shown_ev100)
    return (
        MeterCheck(
            mode=mode,
            meter=_filled(meter, mode, rows, repeatability, step_ev),
            levels=tuple(rows),
            repeatability=repeatability,
            step_ev=step_ev,
            step_told=meter.resolution_ev is not None,
            frame_scatter_ev=grouped.levels.scatter_ev,
            frame_dof=None if math.isinf(grouped.levels.dof) else grouped.levels.dof,
            straight_percent=200.0 * math.hypot(ruler.curvature.part, ruler.curvature.u),
            left_out=tuple(f.file for f, g in zip(ruler.frames, group, strict=True) if g < 0),
        ),
        dict(zip(levels, spreads, strict=True)),
    )


def _filled(
    meter: Meter,
    mode: str,
    rows: Sequence[MeterLevel],
    repeatability: Repeatability,
    step_ev: float,
) -> Meter:
    """The meter with the figures found: limits +- as its file holds them, levels rising.

    Levels that the meter shows alike are one, by the mean of what was found, weighted alike.
    """
    merged: dict[float, list[MeterLevel]] = {}
    for row in rows:
        merged.setdefault(round(row.shown_ev100, 2), []).append(row)
    shown = sorted(merged)
    found = Linearity(
        level_ev100=tuple(shown),
        deviation_ev=tuple(
            round(math.fsum(r.deviation_ev.value for r in merged[s]) / len(merged[s]), 4)
            for s in shown
        ),
        u_ev=tuple(round(max(r.deviation_ev.u for r in merged[s]), 4) for s in shown),
    )
    return replace(
        meter,
        repeatability_ev=round(_RECTANGLE * repeatability.rms_ev, 4),
        resolution_ev=round(step_ev, 4),
        linearity=dict(meter.linearity) | {mode: found},
    )


def _beyond_chance(found: Sequence[tuple[float, Estimate]]) -> bool:
    """Whether values at levels differ: any from their mean, or in a slope, at 5 % for both."""
    level, value, u = (
        np.array(each) for each in zip(*((x, e.value, e.u) for x, e in found), strict=True)
    )
    weight = 1.0 / np.maximum(u, 1e-6) ** 2
    apart = value - (weight @ value) / weight.sum()
    arm = level - (weight @ level) / weight.sum()
    slope = abs(float((weight * arm) @ value)) / math.sqrt(max(float(weight @ arm**2), 1e-12))
    most = float(np.max(np.abs(apart) * np.sqrt(weight)))
    return slope > normal_quantile(1.0 - 0.0125) or most > normal_quantile(
        1.0 - 0.0125 / len(found)
    )


def _estimate(spread: Spread, scale: float, u_ev: float, shift_ev: float = 0.0) -> Estimate:
    """The estimate of scale * spread + shift with a normal error."""
    value, u, low, high = interval(spread, scale, u_ev)
    return Estimate(value=value + shift_ev, u=u, low=low + shift_ev, high=high + shift_ev)
