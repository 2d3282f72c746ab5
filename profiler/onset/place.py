"""A scene placed on what the body can hold."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from profiler.errors import ExposureError, about
from profiler.exposure.modes import is_flash
from profiler.exposure.stops import nearest_f_mark
from profiler.onset import guards, lookup, margins
from profiler.onset.aperture import (
    as_measured,
    check_aperture,
    given_ev,
    iris_cancels,
    usual_aperture,
)
from profiler.onset.between import find_label
from profiler.onset.camera import Aperture, CameraSetting, Shutter, parse_setting
from profiler.onset.corrections import Correction, corrections_of, lost_ev
from profiler.onset.guards import Guard
from profiler.onset.latitude import Dial, Latitude, weigh
from profiler.onset.lens import LensUse, check_kind, through_lens
from profiler.onset.metered import Metered, read_meter_texts
from profiler.onset.on_body import OnBody
from profiler.onset.placement import Landing, Spot, between, land_spot, scene_of
from profiler.onset.times import no_longer
from profiler.records import Flag
from profiler.results import ProfileData, Result

KEY: Final = "grey (key)"
AIM: Final = "aim"
METER: Final = "meter"
_FAR_EV: Final = 1.0 + 1e-6


@dataclass(frozen=True, kw_only=True)
class PlaceAsk(OnBody):
    """Where a key reading and named spots land.

    spots: records, or texts such as "hair=EV 8.1". setting: AIM puts the key on the aim, METER
    gives what the meter asked for, else the camera's. keep, shadows: names of spots to hold.
    """

    iso: int
    key: str | Sequence[str] | None = None
    spots: Iterable[Spot | str] = ()
    setting: str | CameraSetting = AIM
    keep: Sequence[str] = ()
    shadows: Sequence[str] = ()
    sort: Literal["given", "bright"] = "given"


@dataclass(frozen=True, kw_only=True)
class Given:
    """The exposure in use: a camera setting, or the key put on the aim or taken as metered.

    given_ev = log2(N^2/t) with losses (flash: 2 log2 N). iris: its mark counts in the margins.
    mark: where no setting was given, the marks that come nearest without giving more light, at the
    aperture of the calibration; mark_ev: what they give above the exposure in use, zero or less.
    mark is None where clip wasn't seen, and where no mark comes within a stop.
    """

    rule: str
    setting: CameraSetting | None
    given_ev: float
    corrections: tuple[Correction, ...]
    iris: bool
    mark: CameraSetting | None = None
    mark_ev: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Placed:
    """Where key and spots land at one ISO label, and what the exposure may do.

    channel_clip_ev: stops that each channel's clip lies above the first one's; clip_seen: whether
    it was measured. floor_below_clip_ev: stops from the first clip down to SNR 10 (10) and 1 (1).
    linear_below_clip_ev: stops from clip down to where the straight line ends, None where it
    wasn't seen to end. flags: of the results that key and spots rest on.
    """

    iso: int
    light: str
    mode: str
    spot_mode: str
    aim_stops: float
    given: Given
    first_to_clip: str
    channel_clip_ev: Mapping[str, float]
    clip_seen: bool
    floor_below_clip_ev: Mapping[str, float]
    linear_below_clip_ev: float | None
    key: Landing | None
    spots: tuple[Landing, ...]
    latitude: Latitude | None
    guards: tuple[Guard, ...]
    lens: LensUse | None = None
    flags: tuple[Flag, ...] = ()

    @property
    def landings(self) -> list[Landing]:
        """The spots, then the key."""
        return [*self.spots, *([] if self.key is None else [self.key])]


def place(data: ProfileData, ask: PlaceAsk) -> Placed:
    """Return where a key reading and any number of spot readings land.

    The spots are read by spot (flash-spot under flash) whatever the key was read by, so the profile
    must hold that mode too.
    """
    with about("spot"):
        scene = scene_of(ask.spots, ask.average)
    if ask.key is None and not scene:
        raise ExposureError("there is no reading", "place", 'Add {key} "EV 12.0" or a spot', "key")
    with about("setting"):
        camera = _camera(ask.setting, ask.key)
        check_kind(ask.lens, camera.aperture if camera else None)
    wanted = camera.aperture.marked if camera and camera.aperture.word == "f" else None
    key_wanted = wanted if ask.key is not None else None
    result = find_label(data, ask.iso, ask.mode, ask.light, key_wanted, between=ask.between)
    spot_mode = "flash-spot" if is_flash(result.mode) else "spot"
    spot_result = result
    if scene:
        spot_light = ask.light or result.light
        spot_result = find_label(data, ask.iso, spot_mode, spot_light, wanted, between=ask.between)
    if ask.key is None:
        result = spot_result
    result, spot_result = (through_lens(r, ask.lens, wanted) for r in (result, spot_result))
    meter = lookup.meter_of(data)
    metered = None
    if ask.key is not None:
        with about("key"):
            metered = read_meter_texts(
                ask.key,
                result.mode,
                meter,
                average=ask.average,
                where="key",
                held=lookup.modes_of(data),
            )
    given = _give(result, metered, camera, ask)
    grey = None
    if metered is not None:
        grey = land_spot(KEY, metered, result, given.given_ev, iris=given.iris)
    landings = []
    for spot in scene:
        with about("spot"):
            read = spot.metered(spot_mode, meter, held=(spot_mode,))
        landings.append(land_spot(spot.name, read, spot_result, given.given_ev, iris=given.iris))
    if grey is not None:
        landings = [
            replace(spot, above_grey_ev=between(spot, grey, spot_result, result))
            for spot in landings
        ]
    found = guards.unmeasured(result)
    if given.setting is not None:
        usual = replace(
            given.setting, aperture=as_measured(given.setting.aperture, result, ask.transmission)
        )
        found = guards.look(result, usual, ask)
    everything = [*landings, *([grey] if grey is not None and not landings else [])]
    dial = _dial(given, spot_result, ask)
    latitude = weigh(everything, spot_result, ask.keep, ask.shadows, dial, ask.marks)
    if ask.sort == "bright":
        landings.sort(key=lambda spot: spot.below_clip_ev.value)
    return Placed(
        iso=ask.iso,
        light=result.light,
        mode=result.mode,
        spot_mode=spot_mode,
        aim_stops=ask.aim_stops(result),
        given=given,
        first_to_clip=spot_result.first_to_clip,
        channel_clip_ev=_channel_clip(spot_result),
        clip_seen=not spot_result.clip_headroom_ev.lower_bound,
        floor_below_clip_ev=_floors(spot_result),
        linear_below_clip_ev=_linear(spot_result),
        key=grey,
        spots=tuple(landings),
        latitude=latitude,
        guards=found,
        lens=None if ask.lens is None else ask.lens.at(wanted),
        flags=(*result.flags, *spot_result.flags),
    )


def _camera(setting: str | CameraSetting, key: str | Sequence[str] | None) -> CameraSetting | None:
    if isinstance(setting, CameraSetting):
        return setting
    word = setting.strip().lower()
    if word not in (AIM, METER):
        return parse_setting(setting)
    if key is None:
        raise ExposureError(
            "without a key reading the exposure isn't known",
            f"setting '{word}'",
            'Add {key} "EV 12.0", or the camera\'s {setting} "f/8 1/60"',
            "key",
        )
    return None


def _give(
    result: Result, metered: Metered | None, camera: CameraSetting | None, ask: PlaceAsk
) -> Given:
    """The exposure in use, checked against the apertures that the result holds for."""
    corrections = corrections_of(ask.loss)
    if camera is not None:
        usual = as_measured(camera.aperture, result, ask.transmission)
        check_aperture(result, usual.marked, f"setting '{camera.label}'")
        given = given_ev(
            replace(camera, aperture=usual),
            result,
            lost_ev=lost_ev(corrections),
            flash=is_flash(result.mode),
            series=ask.marks,
        )
        iris = not iris_cancels(result, usual.marked)
        return Given(
            rule="setting", setting=camera, given_ev=given, corrections=corrections, iris=iris
        )
    if metered is None:
        raise ValueError("an exposure by the key needs its reading")
    word = str(ask.setting).strip().lower()
    offset = result.clip_headroom_ev.value - ask.aim_stops(result) if word == AIM else 0.0
    given = metered.ev100 + math.log2(result.iso / 100.0) - offset
    mark = _marked(given - lost_ev(corrections), result, ask)
    mark_ev = 0.0
    if mark is not None:
        flash = is_flash(result.mode)
        lost = lost_ev(corrections)
        mark_ev = given - given_ev(mark, result, lost_ev=lost, flash=flash, series=ask.marks)
    near = -_FAR_EV < mark_ev <= 1e-9 and not result.clip_headroom_ev.lower_bound
    return Given(
        rule=word,
        setting=None,
        given_ev=given,
        corrections=corrections,
        iris=True,
        mark=mark if near else None,
        mark_ev=mark_ev if near else 0.0,
    )


def _marked(wanted_ev: float, result: Result, ask: PlaceAsk) -> CameraSetting | None:
    """The marks nearest to log2(N^2/t) that give no more light, at the aperture measured at."""
    if is_flash(result.mode):
        word = "T" if result.measured_by_t_stop else "f"
        for step in range(4):
            found = nearest_f_mark(2.0 ** ((wanted_ev + step / 3.0) / 2.0), ask.marks)
            if 2.0 * math.log2(found.exact) >= wanted_ev - 1e-9:
                return CameraSetting(aperture=Aperture(marked=found.marked, word=word))
        return None
    aperture = usual_aperture(result)
    seconds = aperture.exact(ask.marks) ** 2 / 2.0**wanted_ev
    return CameraSetting(
        aperture=aperture, shutter=no_longer(seconds, result.time_rule.used, ask.marks)
    )


def _dial(given: Given, result: Result, ask: PlaceAsk) -> Dial | None:
    """The camera's time, where one is known or named and time counts."""
    setting = given.setting or given.mark
    shutter: Shutter | None = None if setting is None else setting.shutter
    if shutter is None or shutter.angle_deg is not None or is_flash(result.mode):
        return None
    rule = result.time_rule.used
    time_s = shutter.seconds(rule, ask.marks) / 2.0**given.mark_ev
    return Dial(shutter=shutter, time_s=time_s, rule=rule, marks=ask.marks)


def _channel_clip(result: Result) -> dict[str, float]:
    first = result.channels[margins.first_channel(result)].headroom_ev
    return {name: c.headroom_ev - first for name, c in result.channels.items()}


def _floors(result: Result) -> dict[str, float]:
    if result.footroom_ev is None:
        return {}
    top = result.clip_headroom_ev.value
    return {
        "10": top + result.footroom_ev.snr10.value,
        "1": top + result.footroom_ev.snr1.value,
    }


def _linear(result: Result) -> float | None:
    linear = result.linear_headroom_ev
    return None if linear.lower_bound else result.clip_headroom_ev.value - linear.value
