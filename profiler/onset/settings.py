"""From a reading to what to set, on the meter or on the camera."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from profiler import standards
from profiler.errors import ExposureError, ProfileError, about
from profiler.exposure.modes import is_flash
from profiler.exposure.stops import StopStep, nearest_f_mark
from profiler.onset import guards, lookup, margins
from profiler.onset.aperture import (
    accepts,
    as_measured,
    band_words,
    check_aperture,
    given_ev,
    iris_cancels,
    measured_apertures,
    same_mark,
    usual_aperture,
)
from profiler.onset.between import find_label
from profiler.onset.camera import (
    Aperture,
    CameraSetting,
    Shutter,
    parse_aperture,
    parse_shutter,
)
from profiler.onset.corrections import Correction, corrections_of, enough_nd, lost_ev
from profiler.onset.dial import MeterDial, dial
from profiler.onset.guards import Guard
from profiler.onset.lens import LensUse, check_kind, through_lens
from profiler.onset.metered import Metered, read_meter_texts
from profiler.onset.on_body import OnBody
from profiler.onset.times import nearest_time
from profiler.records import Estimate, Flag
from profiler.results import ProfileData, Result

_COMMON_F: Final = (1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0)
_NO_LENS: Final = (0.3, 130.0)
"""f-numbers that no lens has, at either end."""


@dataclass(frozen=True, kw_only=True)
class SettingsAsk(OnBody):
    """What to set for a reading; iso None takes the best label where aperture and time are given.

    fps: frame rate, for which an angle is found where no time is given.
    """

    reading: str | Sequence[str]
    iso: int | None = None
    aperture: str | None = None
    time: str | None = None
    fps: float | None = None


@dataclass(frozen=True, kw_only=True)
class Setup:
    """A camera setting, and where the metered grey lands with it.

    iris: its error counts in the margins; it cancels at the aperture of the calibration.
    left_ev: exposure still to give (negative: to take away) so that the grey is on the aim; exact
    rounding, on top of it comes the uncertainty of where the grey lands. from_aim_ev, below_clip,
    above_floor: the grey's distances in stops; above_floor holds for SNR 10.
    """

    iso: int
    setting: CameraSetting
    iris: bool
    left_ev: float
    from_aim_ev: Estimate
    below_clip_ev: Estimate
    above_floor_ev: Estimate | None


@dataclass(frozen=True, kw_only=True)
class Settings:
    """The answer: meter dial, camera setting, other settings alike, what to look out for.

    turn_flash_ev: stops to turn the flash up (negative: down) for the aperture that was asked for;
    None where no flash was read or the aperture was found. found: which of the camera's dials was
    found; time_rule, marks: how that dial's marks count. lens: another than the calibrated one.
    flags: of the result that the answer rests on. beyond: ways back, where no dial has what was
    found.
    """

    iso: int
    mode: str
    light: str
    first_to_clip: str
    aim_stops: float
    metered: Metered
    corrections: tuple[Correction, ...]
    lost_ev: float
    dial: MeterDial
    setup: Setup
    turn_flash_ev: float | None
    found: Literal["time", "aperture", ""]
    time_rule: str
    marks: StopStep
    others: tuple[Setup, ...]
    guards: tuple[Guard, ...]
    lens: LensUse | None = None
    flags: tuple[Flag, ...] = ()
    beyond: Beyond | None = None


@dataclass(frozen=True, kw_only=True)
class Beyond:
    """A setting that was found beyond the dials of most bodies and lenses, and ways back.

    over_ev: stops by which it is. nd_density, nd_stops: the least filter in steps of 0.3 that is
    enough, and the setting with it; iso: the highest label held that is low enough, None where none
    is.
    """

    over_ev: float
    nd_density: float
    nd_stops: float
    setting: CameraSetting
    iso: int | None


@dataclass(frozen=True, kw_only=True)
class Wish:
    """A question as it was read: aperture, shutter, both or none of them, what takes light away."""

    ask: SettingsAsk
    aperture: Aperture | None
    shutter: Shutter | None
    corrections: tuple[Correction, ...]


def settings(data: ProfileData, ask: SettingsAsk) -> Settings:
    """Return what to set for a reading on the body of a profile.

    With an aperture the time is found, with a time the aperture, with both what is left over.
    """
    with about("aperture"):
        aperture = None if ask.aperture is None else parse_aperture(ask.aperture)
        check_kind(ask.lens, aperture)
    with about("time"):
        shutter = None if ask.time is None else parse_shutter(ask.time)
    wish = Wish(ask=ask, aperture=aperture, shutter=shutter, corrections=corrections_of(ask.loss))
    results = _held(data, ask, wish)
    with about("reading"):
        metered = read_meter_texts(
            ask.reading,
            results[0].mode,
            lookup.meter_of(data),
            average=ask.average,
            held=lookup.modes_of(data),
        )
    aim_stops = ask.aim_stops(results[0])
    found = solve(results, metered, wish, aim_stops)
    if not found.found or is_flash(found.mode):
        return found
    labels = lookup.labels(data, found.mode, found.light)
    return replace(found, beyond=_beyond(found, results[0], wish, aim_stops, labels))


def _beyond(
    found: Settings, result: Result, wish: Wish, aim_stops: float, labels: Sequence[int]
) -> Beyond | None:
    """What brings a time below the shortest, or an aperture above the smallest, back."""
    over = _over_ev(found.setup.setting, result, wish)
    if over <= 0.05:
        return None
    density = enough_nd(over)
    filtered = corrections_of(f"ND {density:.1f}")
    behind = replace(wish, corrections=(*wish.corrections, *filtered))
    lower = [iso for iso in labels if math.log2(result.iso / iso) >= over]
    return Beyond(
        over_ev=over,
        nd_density=density,
        nd_stops=lost_ev(filtered),
        setting=_complete(result, found.metered, behind, aim_stops),
        iso=max(lower) if lower else None,
    )


def _over_ev(setting: CameraSetting, result: Result, wish: Wish) -> float:
    """Stops by which a time is too short or an aperture too small; zero or less where neither."""
    shutter, marks = setting.shutter, wish.ask.marks
    if wish.shutter is None and shutter is not None and shutter.angle_deg is None:
        shortest = Shutter(marked_s=standards.SHORTEST_TIME_S).seconds("exact", marks)
        return math.log2(shortest / shutter.seconds("exact", marks))
    if wish.aperture is None:
        smallest = Aperture(marked=standards.SMALLEST_F_NUMBER).exact(marks)
        return 2.0 * math.log2(setting.aperture.exact(marks) / smallest)
    return 0.0


def _held(data: ProfileData, ask: SettingsAsk, wish: Wish) -> list[Result]:
    """The result of the ISO label asked for; else of the only one, or of all to weigh."""
    word = wish.aperture is not None and wish.aperture.word == "f"
    marked = wish.aperture.marked if wish.aperture is not None and word else None
    isos = (ask.iso,) if ask.iso is not None else lookup.labels(data, ask.mode, ask.light)
    found = [
        find_label(data, iso, ask.mode, ask.light, marked, between=ask.between) for iso in isos
    ]
    if not found:
        lookup.find(data, 0, ask.mode, ask.light)
    flash = bool(found) and is_flash(found[0].mode)
    if len(found) > 1 and (wish.aperture is None or (wish.shutter is None and not flash)):
        raise ExposureError(
            "the ISO label is missing",
            "settings",
            "Give {iso}, or both {aperture} and {time}; "
            f"the profile holds {lookup.holdings(data)}",
            "iso",
        )
    return found


def solve(results: Sequence[Result], metered: Metered, wish: Wish, aim_stops: float) -> Settings:
    """Return the settings that put the metered grey on the aim, for one result or the best label.

    log2(N^2/t) = EV100 + log2(S/100) - offset - losses. Several results (ISO labels) are weighed
    only where aperture and time are both given: the label that leaves least over is taken.
    """
    if not results:
        raise ValueError("solve needs at least one result")
    both = wish.aperture is not None and (wish.shutter is not None or is_flash(metered.mode))
    if len(results) > 1 and not both:
        raise ValueError("several ISO labels need an aperture and a time")
    setups = [
        land(result, metered, _complete(result, metered, wish, aim_stops), wish, aim_stops)
        for result in results
    ]
    best = min(setups, key=lambda setup: abs(setup.left_ev))
    result = next(r for r in results if r.iso == best.iso)
    if len(results) > 1:
        others = tuple(s for s in setups if s is not best)
    else:
        others = _alike(result, metered, wish, aim_stops, best) if not both else ()
    result = through_lens(result, wish.ask.lens, best.setting.aperture.marked)
    return Settings(
        iso=result.iso,
        mode=result.mode,
        light=result.light,
        first_to_clip=result.first_to_clip,
        aim_stops=aim_stops,
        metered=metered,
        corrections=wish.corrections,
        lost_ev=lost_ev(wish.corrections),
        dial=dial(result, aim_stops, iris=best.iris),
        setup=best,
        turn_flash_ev=best.left_ev if is_flash(metered.mode) and wish.aperture else None,
        found=_found(wish, flash=is_flash(metered.mode)),
        time_rule=result.time_rule.used,
        marks=wish.ask.marks,
        others=others,
        guards=guards.look(result, best.setting, wish.ask, left_ev=best.left_ev),
        lens=None if wish.ask.lens is None else wish.ask.lens.at(best.setting.aperture.marked),
        flags=result.flags,
    )


def _found(wish: Wish, *, flash: bool) -> Literal["time", "aperture", ""]:
    """Which dial was found: the time unless one was wished for, then the aperture."""
    if flash or wish.shutter is not None:
        return "aperture" if wish.aperture is None else ""
    return "time"


def placement_ev(
    result: Result, metered: Metered, setting: CameraSetting, lost: float, marks: StopStep
) -> float:
    """Return stops that a setting gives above what the meter asked for at the label."""
    given = given_ev(setting, result, lost_ev=lost, flash=is_flash(result.mode), series=marks)
    return metered.ev100 + math.log2(result.iso / 100.0) - given


def land(result: Result, metered: Metered, setting: CameraSetting, wish: Wish, aim: float) -> Setup:
    """Return where the metered grey lands at a setting, with its margins."""
    result = through_lens(result, wish.ask.lens, setting.aperture.marked)
    usual = as_measured(setting.aperture, result, wish.ask.transmission)
    check_aperture(result, usual.marked, f"setting {setting.label}")
    measured = replace(setting, aperture=usual)
    x = placement_ev(result, metered, measured, lost_ev(wish.corrections), wish.ask.marks)
    iris = not iris_cancels(result, usual.marked)
    new = margins.frame_rows(result, iris=iris) + metered.rows()
    headroom = result.clip_headroom_ev
    clip_rows = margins.profile_rows(result, iris=iris) + new
    footroom = result.footroom_ev
    floor = None
    if footroom is not None:
        rows = margins.floor_rows(result, footroom, footroom.snr10, iris=iris) + new
        floor = margins.estimate(footroom.snr10.value + x, rows)
    left = headroom.value - aim - x
    return Setup(
        iso=result.iso,
        setting=setting,
        iris=iris,
        left_ev=left + 0.0,
        from_aim_ev=margins.estimate(0.0 - left, clip_rows, lower_bound=headroom.lower_bound),
        below_clip_ev=margins.estimate(
            headroom.value - x, clip_rows, lower_bound=headroom.lower_bound
        ),
        above_floor_ev=floor,
    )


def _complete(result: Result, metered: Metered, wish: Wish, aim: float) -> CameraSetting:
    """The camera setting: what is wished for, the rest solved and rounded to marks."""
    aperture, shutter = wish.aperture, wish.shutter
    if aperture is None and shutter is None and not is_flash(metered.mode):
        aperture = usual_aperture(result)
    result = through_lens(result, wish.ask.lens, None if aperture is None else aperture.marked)
    offset = result.clip_headroom_ev.value - aim
    wanted = metered.ev100 + math.log2(result.iso / 100.0) - offset - lost_ev(wish.corrections)
    if is_flash(metered.mode):
        if aperture is None:
            aperture = _f_mark(2.0 ** (wanted / 2.0), result, wish)
        return CameraSetting(aperture=aperture, shutter=shutter)
    if shutter is None and aperture is not None:
        usual = as_measured(aperture, result, wish.ask.transmission).exact(wish.ask.marks)
        seconds = usual**2 / 2.0**wanted
        return CameraSetting(aperture=aperture, shutter=_shutter(seconds, result, wish))
    if aperture is None and shutter is not None:
        seconds = shutter.seconds(result.time_rule.used, wish.ask.marks)
        f_number = math.sqrt(seconds * 2.0**wanted)
        if f_number > _NO_LENS[0]:
            aperture = _f_mark(f_number, result, wish)
        if aperture is None or not accepts(result, aperture.marked):
            raise _not_held(f_number, shutter, wanted, result, wish)
    if aperture is None:
        raise ValueError("no aperture was found")
    return CameraSetting(aperture=aperture, shutter=shutter)


def _f_mark(f_number: float, result: Result, wish: Wish) -> Aperture:
    word = "T" if result.measured_by_t_stop else "f"
    if f_number <= _NO_LENS[0]:
        raise ExposureError(
            f"no lens has {word}/{f_number:.3g}, which the reading asks for",
            f"ISO {result.iso}",
            "Choose a higher ISO label, or bring more light",
        )
    if f_number >= _NO_LENS[1]:
        over = 2.0 * math.log2(f_number / standards.SMALLEST_F_NUMBER)
        smallest = Aperture(marked=standards.SMALLEST_F_NUMBER, word=word).label
        raise ExposureError(
            f"the light is {over:.1f} stops too much for the smallest aperture of most lenses, "
            f"{smallest}",
            f"ISO {result.iso}",
            f"Add ND {enough_nd(over):.1f} ({over:.1f} stops or more), or choose a shorter time or "
            "a lower ISO label",
            "time",
        )
    return Aperture(marked=nearest_f_mark(f_number, wish.ask.marks).marked, word=word)


def _not_held(
    f_number: float, shutter: Shutter, wanted_ev: float, result: Result, wish: Wish
) -> ProfileError:
    """The refusal of an aperture that was found: at which time a measured one would do instead."""
    marks = wish.ask.marks
    held = [n for n in (*measured_apertures(result), *_COMMON_F) if accepts(result, n)]
    near = min(held, key=lambda n: abs(math.log2(n / f_number)))
    word = "T" if result.measured_by_t_stop else "f"
    instead = Aperture(marked=near, word=word)
    time = nearest_time(instead.exact(marks) ** 2 / 2.0**wanted_ev, result.time_rule.used, marks)
    stops = 2.0 * math.log2(instead.exact(marks) / f_number)
    iso = "higher" if stops > 0.0 else "lower"
    return ProfileError(
        f"the reading asks for {word}/{f_number:.2g} at {shutter.label}, and the profile holds "
        f"{band_words(result)}",
        f"ISO {result.iso}",
        f"Take {time.label} at {instead.label}, or an ISO label {abs(stops):.1f} stops {iso} that "
        "was measured",
        "time",
    )


def _shutter(seconds: float, result: Result, wish: Wish) -> Shutter:
    if wish.ask.fps is None:
        return nearest_time(seconds, result.time_rule.used, wish.ask.marks)
    angle = 360.0 * wish.ask.fps * seconds
    if angle > 360.0 * (1.0 + 1e-9):
        raise ExposureError(
            f"the reading asks for {angle:.0f} deg, more than a full turn at {wish.ask.fps:g} fps",
            f"ISO {result.iso}",
            "Open the iris, choose a higher ISO label or add light",
        )
    angle = round(angle, 1)
    return Shutter(marked_s=angle / (360.0 * wish.ask.fps), angle_deg=angle, fps=wish.ask.fps)


def _alike(
    result: Result, metered: Metered, wish: Wish, aim: float, best: Setup
) -> tuple[Setup, ...]:
    """Settings alike at the other full stops that the profile holds for."""
    if is_flash(metered.mode) or wish.ask.fps is not None or best.setting.aperture.word == "T":
        return ()
    found = []
    for marked in _COMMON_F:
        if same_mark(marked, best.setting.aperture.marked):
            continue
        if accepts(result, marked):
            other = replace(wish, aperture=Aperture(marked=marked), shutter=None)
            setup = land(result, metered, _complete(result, metered, other, aim), other, aim)
            if abs(setup.left_ev) < 0.3:
                found.append(setup)
    return tuple(found)
