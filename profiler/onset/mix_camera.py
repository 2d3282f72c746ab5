"""Mixed light as it was asked for, and the f-number for it on a measured body."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final

from profiler.calibration.fit import budget
from profiler.errors import ProfileError, about
from profiler.exposure.modes import is_flash
from profiler.exposure.quantities import exp2
from profiler.exposure.stops import Mark, StopStep, nearest_f_mark
from profiler.onset import lookup, margins
from profiler.onset.aperture import as_measured, check_aperture, iris_cancels
from profiler.onset.camera import Aperture, Shutter, parse_aperture, parse_shutter
from profiler.onset.corrections import Texts, corrections_of, lost_ev
from profiler.onset.lens import LensUse, MountedLens, check_kind, through_lens
from profiler.onset.metered import Metered, read_meter_texts
from profiler.onset.mix import Holds, Mix, mix
from profiler.onset.times import nearest_time
from profiler.records import Estimate, Flag, Meter
from profiler.results import ProfileData, Result, Source

_USUAL_ISO: Final = 100


@dataclass(frozen=True, kw_only=True)
class MixAsk:
    """How flash and ambient add up.

    iso None: 100, or the only label of the profile. flash_reading: whether flash was read "alone"
    or "with-ambient". share (0 to 1) or over_ambient_ev: what is wanted. aperture: one that stays,
    for which the flash is turned. loss, transmission, lens: as in OnBody.
    """

    iso: int | None = None
    flash: str | Iterable[str] = ()
    ambient: str | None = None
    total: str | None = None
    flash_reading: Holds | None = None
    time: str | None = None
    pops: int = 1
    share: float | None = None
    over_ambient_ev: float | None = None
    mode: str = "flash-flat"
    ambient_mode: str = "incident-flat"
    light: str | None = None
    marks: StopStep = "third"
    aperture: str | None = None
    loss: Texts = ()
    transmission: float | None = None
    lens: MountedLens | None = None


@dataclass(frozen=True, kw_only=True)
class MixCamera:
    """The f-number that puts the metered grey on the aim, as a mark, with what that leaves.

    offset_ev: of the flash mode's result. left_ev: exposure still to give (negative: take away).
    flags: of that result, too.
    """

    iso: int
    mode: str
    light: str
    offset_ev: float
    f_number: float
    mark: Mark
    left_ev: float
    below_clip_ev: Estimate
    lens: LensUse | None = None
    flags: tuple[Flag, ...] = ()


def camera_for(
    mixed: Mix,
    result: Result,
    *,
    aim_stops: float | None = None,
    marks: StopStep = "third",
    aperture: Aperture | None = None,
    lens: MountedLens | None = None,
) -> MixCamera:
    """Return the f-number for a mix: 2 log2 N = stops of the whole light - offset - losses.

    An aperture that stays takes the place of the mark. The mark must lie where the profile holds;
    the margin adds the profile's and today's camera's to the readings'.
    """
    aim = result.aim_stops if aim_stops is None else aim_stops
    body = result
    result = through_lens(body, lens, None if aperture is None else aperture.marked)
    offset, exact = _asked(mixed, result, aim)
    mark = nearest_f_mark(exact, marks) if aperture is None else _kept(aperture, exact, marks)
    if lens is not None and aperture is None:  # a mark that was found has an iris of its own
        result = through_lens(body, lens, mark.marked)
        offset, exact = _asked(mixed, result, aim)
        mark = replace(mark, leftover_ev=2.0 * math.log2(mark.exact / exact))
    check_aperture(result, mark.marked, f"mix, {mark.label}")
    iris = not iris_cancels(result, mark.marked)
    rows = (
        *margins.profile_rows(result, iris=iris),
        *margins.frame_rows(result, iris=iris),
        budget.stated(Source.READING, mixed.total.stops.u, "flash and ambient, added as light"),
    )
    return MixCamera(
        iso=result.iso,
        mode=result.mode,
        light=result.light,
        offset_ev=offset,
        f_number=exact,
        mark=mark,
        left_ev=mark.leftover_ev,
        below_clip_ev=margins.estimate(
            aim + mark.leftover_ev, rows, lower_bound=result.clip_headroom_ev.lower_bound
        ),
        lens=None if lens is None else lens.at(mark.marked),
        flags=result.flags,
    )


def _asked(mixed: Mix, result: Result, aim: float) -> tuple[float, float]:
    """The offset, and the exact f-number that the light asks for."""
    offset = result.clip_headroom_ev.value - aim
    return offset, exp2((mixed.total.stops.value - offset - mixed.lost_ev) / 2.0)


def _kept(aperture: Aperture, wanted: float, marks: StopStep) -> Mark:
    exact = aperture.exact(marks)
    left = 2.0 * math.log2(exact / wanted)
    return Mark(label=aperture.label, marked=aperture.marked, exact=exact, leftover_ev=left)


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """The camera's marks for a wanted share of flash, each with what it leaves to give in EV.

    by_power: the aperture once the flash is turned; by_time: the aperture once the time is time,
    None where no ambient light was read for one.
    """

    by_power: Mark
    by_time: Mark
    time: Shutter | None


@dataclass(frozen=True, kw_only=True)
class MixedLight:
    """Flash and ambient added up, with the f-number for a body.

    aperture: the one that stays, if any. camera: None without a profile, or where the profile
    doesn't hold what was read; lacks then says what it holds instead. wanted: what to set for the
    share of flash that was asked for.
    """

    mix: Mix
    camera: MixCamera | None
    aperture: Aperture | None = None
    lacks: str = ""
    wanted: Wanted | None = None


def mixed_light(
    ask: MixAsk, data: ProfileData | None = None, meter: Meter | None = None
) -> MixedLight:
    """Return the light that was asked for; on the body of a profile as far as that holds it."""
    iso = _label(ask, data)
    result, lacks = None, ""
    if data is not None:
        meter = meter or lookup.meter_of(data)
        try:
            result = lookup.find(data, iso, ask.mode, ask.light)
        except ProfileError as error:
            held = lookup.holdings(data)
            lacks = f"{error.what}; {error.place()} holds {held}. Calibrate it with flash for that."
            if any(is_flash(mode) for mode in lookup.modes_of(data)):
                lacks = f"{error.what}. {error.cure()}."
    aperture = _aperture(ask, result)
    mixed = _added(ask, iso, meter or Meter(), result, aperture)
    camera = None
    if result is not None:
        camera = camera_for(mixed, result, marks=ask.marks, aperture=aperture, lens=ask.lens)
    rule = "exact" if result is None else result.time_rule.used
    return MixedLight(
        mix=mixed,
        aperture=aperture,
        camera=camera,
        lacks=lacks,
        wanted=_wanted(mixed, camera, rule, ask.marks),
    )


def _wanted(mixed: Mix, camera: MixCamera | None, rule: str, marks: StopStep) -> Wanted | None:
    """The marks after each way to the wanted share; the iris keeps the exposure of the whole."""
    change = mixed.change
    if change is None:
        return None
    now = mixed.total.f_number * exp2(-0.5 * mixed.lost_ev)
    if camera is not None:
        now = camera.f_number
    return Wanted(
        by_power=nearest_f_mark(now * exp2(0.5 * change.close_after_power_ev), marks),
        by_time=nearest_f_mark(now * exp2(0.5 * change.close_after_time_ev), marks),
        time=None if change.time_s is None else nearest_time(change.time_s, rule, marks),
    )


def _aperture(ask: MixAsk, result: Result | None) -> Aperture | None:
    """The aperture that stays, in the kind that the body was measured by."""
    if ask.aperture is None:
        return None
    with about("aperture"):
        aperture = parse_aperture(ask.aperture)
        check_kind(ask.lens, aperture)
        return aperture if result is None else as_measured(aperture, result, ask.transmission)


def _label(ask: MixAsk, data: ProfileData | None) -> int:
    """The ISO label asked for; else 100, or the only one that a profile holds."""
    if ask.iso is not None:
        return ask.iso
    held = () if data is None else lookup.labels(data, ask.mode, ask.light)
    return held[0] if len(held) == 1 else _USUAL_ISO


def _added(
    ask: MixAsk, iso: int, meter: Meter, result: Result | None, aperture: Aperture | None
) -> Mix:
    """The readings as typed, added up."""
    rule = "exact" if result is None else result.time_rule.used
    losses = corrections_of(ask.loss)
    needed = None
    if aperture is not None:
        offset = 0.0
        if result is not None:
            seen = through_lens(result, ask.lens, aperture.marked)
            offset = seen.clip_headroom_ev.value - seen.aim_stops
        needed = 2.0 * math.log2(aperture.exact(ask.marks)) + offset + lost_ev(losses)

    def read(text: str | None, mode: str, field: str) -> Metered | None:
        if text is None:
            return None
        with about(field):
            return read_meter_texts(text, mode, meter, where=field)

    flashes = [ask.flash] if isinstance(ask.flash, str) else list(ask.flash)
    with about("time"):
        shutter = None if ask.time is None else parse_shutter(ask.time)
    return mix(
        iso=float(iso),
        flashes=[m for text in flashes if (m := read(text, ask.mode, "flash")) is not None],
        ambient=read(ask.ambient, ask.ambient_mode, "ambient"),
        total=read(ask.total, ask.mode, "total"),
        holds=ask.flash_reading,
        time_s=None if shutter is None else shutter.seconds(rule, ask.marks),
        pops=ask.pops,
        share=ask.share,
        over_ambient_ev=ask.over_ambient_ev,
        corrections=losses,
        needed_ev=needed,
    )
