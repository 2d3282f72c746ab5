"""Mixed light as it was asked for, and the f-number for it on a measured body."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from profiler.calibration.fit import budget
from profiler.errors import ProfileError, about
from profiler.exposure.quantities import exp2
from profiler.exposure.stops import Mark, StopStep, nearest_f_mark
from profiler.onset import lookup, margins
from profiler.onset.aperture import check_aperture, iris_cancels
from profiler.onset.ask import MixAsk
from profiler.onset.camera import parse_shutter
from profiler.onset.metered import Metered, read_meter_texts
from profiler.onset.mix import Mix, mix
from profiler.records import Estimate, Meter
from profiler.results import ProfileData, Result

_USUAL_ISO: Final = 100


@dataclass(frozen=True, kw_only=True)
class MixCamera:
    """The f-number that puts the metered grey on the aim, as a mark, with what that leaves.

    offset_ev: of the flash mode's result. left_ev: exposure still to give (negative: take away).
    """

    iso: int
    mode: str
    light: str
    offset_ev: float
    f_number: float
    mark: Mark
    left_ev: float
    below_clip_ev: Estimate


def camera_for(
    mixed: Mix, result: Result, *, aim_stops: float | None = None, marks: StopStep = "third"
) -> MixCamera:
    """Return the f-number for a mix: 2 log2 N = stops of the whole light - offset.

    The mark must lie where the profile holds; the margin adds the profile's and today's camera's
    to the readings'.
    """
    aim = result.aim_stops if aim_stops is None else aim_stops
    offset = result.clip_headroom_ev.value - aim
    exact = exp2((mixed.total.stops.value - offset) / 2.0)
    mark = nearest_f_mark(exact, marks)
    check_aperture(result, mark.marked, f"mix, {mark.label}")
    iris = not iris_cancels(result, mark.marked)
    rows = (
        *margins.profile_rows(result, iris=iris),
        *margins.frame_rows(result, iris=iris),
        budget.stated("today's readings", mixed.total.stops.u, "flash and ambient, added as light"),
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
    )


@dataclass(frozen=True, kw_only=True)
class MixedLight:
    """Flash and ambient added up, with the f-number for a body.

    camera: None without a profile, or where the profile doesn't hold what was read; lacks then says
    what it holds instead.
    """

    mix: Mix
    camera: MixCamera | None
    lacks: str = ""


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
            lacks = f"{error.place()}: {error.what}. {error.cure()}"
    mixed = _added(ask, iso, meter or Meter(), "exact" if result is None else result.time_rule.used)
    camera = None if result is None else camera_for(mixed, result, marks=ask.marks)
    return MixedLight(mix=mixed, camera=camera, lacks=lacks)


def _label(ask: MixAsk, data: ProfileData | None) -> int:
    """The ISO label asked for; else 100, or the only one that a profile holds."""
    if ask.iso is not None:
        return ask.iso
    held = () if data is None else lookup.labels(data, ask.mode, ask.light)
    return held[0] if len(held) == 1 else _USUAL_ISO


def _added(ask: MixAsk, iso: int, meter: Meter, rule: str) -> Mix:
    """The readings as typed, added up."""

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
    )
