"""What to shoot for a calibration, with what it will be worth."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from profiler import standards
from profiler.calibration.fit import budget
from profiler.errors import ExposureError, about
from profiler.exposure.display import display_step_ev
from profiler.exposure.modes import is_flash
from profiler.exposure.stops import StopStep
from profiler.onset import guards, lookup
from profiler.onset.camera import (
    Aperture,
    CameraSetting,
    Shutter,
    parse_aperture,
    seconds_of,
)
from profiler.onset.corrections import Texts, corrections_of, lost_ev
from profiler.onset.metered import Coarse, Metered, read_meter_texts
from profiler.onset.plan_budget import planned_rows
from profiler.onset.plan_frames import (
    Expected,
    choose_times,
    expected_headroom,
    measured_headroom,
    usable_times,
    wanted_placements,
)
from profiler.onset.plan_labels import (
    LabelPlan,
    dark_frames,
    flash_label,
    metered_time_s,
    plan_warnings,
    seconds_for,
    timed_label,
)
from profiler.records import LIGHTS, MODES, Meter
from profiler.results import BudgetRow, ProfileData, Source

Shutters = Literal["mechanical", "electronic"]
MECHANICAL: Final = "mechanical"
ELECTRONIC: Final = "electronic"
_APERTURES: Final = (5.6, 8.0, 4.0, 6.3, 7.1, 5.0, 4.5)
Half = Callable[[Sequence[BudgetRow]], float]
"""From the rows of a budget to half its 95 % interval, in EV."""
MOST_READINGS: Final = 30
_BLACK_SHARE: Final = 1.0 / 32.0  # of the code range, as most bodies have it


@dataclass(frozen=True, kw_only=True)
class PlanAsk:
    """What to shoot for a calibration: the body's limits, the light, how much of it.

    readings: of a steady light, taken anew, before and after the frames. shutter: MECHANICAL, or
    ELECTRONIC where none moves. goal_ev: half the 95 % interval that the cheapest plan is wanted
    for, with no fewer readings and frames than asked for.
    """

    isos: tuple[int, ...] = (100,)
    reading: str | None = None
    mode: str = "spot"
    light: str = "daylight"
    aperture: str | None = None
    min_time: str = "1/4000"
    max_time: str = "0.8"
    marks: StopStep = "third"
    mains_hz: float = 0.0
    sync: str = "1/125"
    loss: Texts = ()
    bits: int = 14
    short: bool = False
    copies: int = 2
    darks: int = 2
    readings: int = 2
    shutter: Shutters = MECHANICAL
    goal_ev: float | None = None

    @property
    def lit_by(self) -> str:
        """The light: flash wherever flash is read."""
        return "flash" if is_flash(self.mode) else self.light


@dataclass(frozen=True, kw_only=True)
class Goal:
    """Half the interval that was wanted, and whether the plan reaches it.

    here: only at the planned aperture. obstacles: rows of the budget that stand in the way, largest
    first, where it doesn't. spot_half_ev: what a spot reading would reach in the same way, None
    where the plan is for one already.
    """

    wanted_ev: float
    reached: bool
    here: bool
    obstacles: tuple[BudgetRow, ...] = ()
    spot_half_ev: float | None = None


@dataclass(frozen=True, kw_only=True)
class Plan:
    """The shooting list, the light that it needs, and the uncertainty that it promises.

    ev100: of the reading, or where none was given the light to bring (light_low..light_high would
    do). readings: of a steady light, taken anew. electronic: without a moving shutter. u_ev,
    half_ev: standard uncertainty of the offset and half its 95 % interval at any aperture,
    here_half_ev: at the planned one, whose iris cancels; None where too little lies on the line.
    coarse: as in Metered.
    """

    mode: str
    light: str
    aperture: Aperture
    marks: StopStep
    mains_hz: float
    reading: str
    ev100: float
    light_low_ev100: float
    light_high_ev100: float
    expected: Expected
    labels: tuple[LabelPlan, ...]
    frame_count: int
    minutes: float
    budget: tuple[BudgetRow, ...]
    u_ev: float | None
    half_ev: float | None
    here_half_ev: float | None
    readings: int
    electronic: bool
    goal: Goal | None = None
    coarse: Coarse | None = None
    warnings: tuple[str, ...]

    @property
    def readings_before(self) -> int:
        """How many of the readings come before the first frame: half of them, or one more."""
        return (self.readings + 1) // 2


def planned(
    ask: PlanAsk,
    data: ProfileData | None = None,
    meter: Meter | None = None,
    half: Half | None = None,
) -> Plan:
    """Return what to shoot whatever the goal; by time at one aperture, flash by its power.

    Without a reading the light is chosen so that all labels reach from the floor to over clip, as
    far as the times allow. half: another way from the budget to half its interval than half_of.
    """
    half = half or half_of
    shortest_s = seconds_of(ask.min_time, "min_time")
    longest_s = seconds_of(ask.max_time, "max_time")
    sync_s = seconds_of(ask.sync, "sync")
    _check(ask, shortest_s, longest_s)
    mode, light, lost = ask.mode, ask.lit_by, lost_ev(corrections_of(ask.loss))
    electronic = ask.shutter == ELECTRONIC
    _check_readings(mode, light, ask.readings, electronic)
    expected = None
    if data is not None:
        expected = measured_headroom(data, mode, ask.isos)
        meter = meter or lookup.meter_of(data)
    meter = meter or Meter()
    expected = expected or expected_headroom(mode, meter)
    with about("aperture"):
        aperture = None if ask.aperture is None else parse_aperture(ask.aperture)
    wanted = wanted_placements(expected, short=ask.short)
    metered = None
    if ask.reading is not None:
        with about("reading"):
            metered = read_meter_texts(ask.reading, mode, meter)
    pulsing = ask.mains_hz if light in guards.PULSING and not is_flash(mode) else 0.0
    times = usable_times(
        min_time_s=shortest_s,
        max_time_s=longest_s,
        marks=ask.marks,
        mains_hz=pulsing,
    )
    if not times and not is_flash(mode):
        raise ExposureError(
            "no time is left between the limits",
            "plan",
            "Widen them, or change the light",
            "max_time",
        )
    if aperture is None:
        aperture = _choose_aperture(ask, wanted, metered, times, lost)
    stops = 2.0 * math.log2(aperture.exact(ask.marks)) + lost
    low, high = (0.0, 0.0) if is_flash(mode) else _window(ask.isos, wanted, times, stops)
    ev100 = _middle(low, high) if metered is None else metered.ev100
    labels = []
    for iso in sorted(set(ask.isos)):
        if is_flash(mode):
            setting = CameraSetting(aperture=aperture, shutter=Shutter(marked_s=sync_s))
            label = flash_label(iso, setting, wanted, expected, stops, ask.copies)
        else:
            asked_s = metered_time_s(aperture, ev100, iso, ask.marks, lost)
            label = timed_label(iso, aperture, wanted, expected, asked_s, times, ask.copies)
        labels.append(
            replace(label, frames=(*label.frames, *dark_frames(iso, aperture, ask.darks)))
        )
    rows = planned_rows(
        [
            [
                f.placement_ev
                for f in each.frames
                if f.placement_ev is not None
                for _ in range(f.copies)
            ]
            for each in labels
        ],
        expected.headroom_ev,
        mode,
        meter,
        darks=ask.darks,
        t_stop=aperture.word == "T",
        range_dn=(1.0 - _BLACK_SHARE) * 2.0**ask.bits,
        step_ev=(display_step_ev((), meter.resolution_ev) if metered is None else metered.step_ev),
        readings=ask.readings,
        electronic=electronic,
    )
    u, _ = budget.combine(rows)
    here = tuple(row for row in rows if row.source != Source.APERTURE_MARK)
    asked = 0 if is_flash(mode) else ask.readings
    frames = [frame for each in labels for frame in each.frames]
    return Plan(
        mode=mode,
        light=light,
        aperture=aperture,
        marks=ask.marks,
        mains_hz=ask.mains_hz,
        reading=ask.reading or "",
        ev100=ev100,
        light_low_ev100=low,
        light_high_ev100=high,
        expected=expected,
        labels=tuple(labels),
        frame_count=sum(frame.copies for frame in frames),
        minutes=(
            math.fsum(seconds_for(frame) for frame in frames) + asked * standards.PLAN_READING_S
        )
        / 60.0,
        budget=rows,
        u_ev=u if rows else None,
        half_ev=half(rows) if rows else None,
        here_half_ev=half(here) if rows else None,
        readings=1 if is_flash(mode) else ask.readings,
        electronic=electronic,
        coarse=None if metered is None else metered.coarse,
        warnings=plan_warnings(
            labels,
            aperture,
            unsure_mains=ask.mains_hz <= 0.0 and light in guards.PULSING and light != "other",
            no_one_light=metered is None and low > high,
            darks=ask.darks,
            copies=ask.copies,
        ),
    )


def half_of(rows: Sequence[BudgetRow]) -> float:
    """Return half the 95 % interval of these rows in EV, as a fit states it."""
    from profiler.calibration.fit.montecarlo import half_width_ev

    return half_width_ev(tuple(rows))


def plan(ask: PlanAsk, data: ProfileData | None = None, meter: Meter | None = None) -> Plan:
    """Return what to shoot; an older profile tells where clip is expected, and the meter.

    With a goal the cheapest plan that reaches it, or the best with what stands in its way.
    """
    if ask.goal_ev is not None:
        from profiler.onset.plan_goal import reach

        return reach(ask, data, meter)
    return planned(ask, data, meter)


def _check(ask: PlanAsk, shortest_s: float, longest_s: float) -> None:
    if ask.mode not in MODES:
        raise ExposureError(
            f"there is no mode {ask.mode!r}", "plan", f"Use one of {', '.join(MODES)}"
        )
    if ask.light not in LIGHTS:
        raise ExposureError(
            f"there is no light {ask.light!r}", "plan", f"Use one of {', '.join(LIGHTS)}"
        )
    if ask.light == "flash" and not is_flash(ask.mode):
        raise ExposureError(
            f"flash isn't read by {ask.mode}",
            "plan",
            f"Choose a flash mode ({', '.join(m for m in MODES if is_flash(m))}) by {{mode}}, or "
            "the light that the meter reads",
            "mode",
        )
    if not ask.isos or any(iso <= 0 for iso in ask.isos):
        raise ExposureError(
            "no ISO label is given", "plan", "Add {iso} 400, or several as 100,400", "iso"
        )
    if not 0.0 < shortest_s < longest_s:
        raise ExposureError(
            "the shortest time is not below the longest",
            "plan",
            "Swap {min_time} and {max_time}",
            "min_time",
        )
    if ask.copies < 1 or ask.darks < 0:
        raise ExposureError(
            "that isn't a number of frames", "plan", "Shoot two of each, and two dark", "copies"
        )


def _check_readings(mode: str, light: str, readings: int, electronic: bool) -> None:
    if not 1 <= readings <= MOST_READINGS:
        raise ExposureError(
            "that isn't a number of readings",
            "plan",
            f"Read 1 to {MOST_READINGS} times",
            "readings",
        )
    if electronic and (is_flash(mode) or (light in guards.PULSING and light != "other")):
        raise ExposureError(
            "an electronic shutter reads the sensor row by row, and this light may pulse or flash",
            "plan",
            "Plan it for daylight, or with the mechanical shutter",
            "shutter",
        )


def _window(
    isos: Sequence[int],
    wanted: Sequence[float],
    times: Sequence[tuple[float, float]],
    stops: float,
) -> tuple[float, float]:
    """EV at ISO 100 of the dimmest light in which the lowest label reaches over clip with the
    longest time, and of the brightest in which the highest reaches the floor with the shortest."""
    low = stops + wanted[-1] - math.log2(times[-1][1]) - math.log2(min(isos) / 100.0)
    high = stops + wanted[0] - math.log2(times[0][1]) - math.log2(max(isos) / 100.0)
    return low, high


def _middle(low: float, high: float) -> float:
    """A light between, to half an EV; where the two cross, the one that reaches over clip."""
    if low <= high:
        return round(low + high) / 2.0
    return math.ceil(2.0 * low) / 2.0


def _choose_aperture(
    ask: PlanAsk,
    wanted: Sequence[float],
    metered: Metered | None,
    times: Sequence[tuple[float, float]],
    lost_ev: float,
) -> Aperture:
    """The aperture between f/4 and f/8 at which most placements can be had, f/5.6 if undecided."""
    if metered is None or is_flash(metered.mode):
        return Aperture(marked=_APERTURES[0])

    def out_of_reach(marked: float) -> int:
        aperture = Aperture(marked=marked)
        return sum(
            len(
                choose_times(
                    wanted,
                    metered_time_s(aperture, metered.ev100, iso, ask.marks, lost_ev),
                    times,
                )[1]
            )
            for iso in ask.isos
        )

    return Aperture(marked=min(_APERTURES, key=out_of_reach))
