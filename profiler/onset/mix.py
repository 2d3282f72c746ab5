"""Flash added to ambient light, as light."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from profiler.errors import ExposureError
from profiler.exposure import lighting
from profiler.exposure.quantities import exp2, positive
from profiler.exposure.wording import format_f_tenths
from profiler.onset.corrections import Correction, lost_ev
from profiler.onset.light_sum import Ledger, Light
from profiler.onset.metered import Coarse, Metered
from profiler.records import Estimate

Holds = Literal["alone", "with-ambient"]
HOLDS: Final[tuple[Holds, ...]] = ("alone", "with-ambient")
_LN2: Final = math.log(2.0)


@dataclass(frozen=True, kw_only=True)
class Part:
    """A light at one time and ISO: stops = 2 log2 of the f-number that it alone asks for."""

    stops: Estimate
    f_number: float


@dataclass(frozen=True, kw_only=True)
class Change:
    """Ways to a wanted share of flash; positive stops: more flash, longer time, iris closed.

    power_ev or distance_factor (of lamp to subject, the inverse square of light) changes the flash,
    time_factor the ambient; after either the iris closes by the stops beside it to keep the sum.
    """

    share: float
    over_ambient_ev: float
    power_ev: float
    distance_factor: float
    close_after_power_ev: float
    time_ev: float
    time_factor: float
    time_s: float | None
    close_after_time_ev: float


@dataclass(frozen=True, kw_only=True)
class Turn:
    """What the flash needs for an aperture that stays.

    change_ev: stops to turn it up (negative: down); None where the ambient light alone is too much
    already. ambient_over_ev: stops by which it alone exceeds what the aperture asks for (negative:
    lies under it), None without ambient light.
    """

    change_ev: Estimate | None
    ambient_over_ev: float | None


@dataclass(frozen=True, kw_only=True)
class Mix:
    """Flash, ambient with their sum, as the meter sees them. share: part that is flash, 0 to 1.

    lost_ev: what filters and the like then take from all of it before it reaches the sensor.
    coarse: as in Metered, of the first reading that is.
    """

    iso: float
    time_s: float | None
    holds: Holds | None
    pops: int
    flashes: tuple[Part, ...]
    flash: Part
    ambient: Part | None
    total: Part
    share: Estimate | None
    over_ambient_ev: Estimate | None
    change: Change | None
    corrections: tuple[Correction, ...]
    lost_ev: float
    turn: Turn | None
    coarse: Coarse | None = None


def mix(
    *,
    iso: float,
    flashes: Sequence[Metered] = (),
    ambient: Metered | None = None,
    total: Metered | None = None,
    holds: Holds | None = None,
    time_s: float | None = None,
    pops: int = 1,
    share: float | None = None,
    over_ambient_ev: float | None = None,
    corrections: Sequence[Correction] = (),
    needed_ev: float | None = None,
) -> Mix:
    """Return how flash and ambient add up, or a part from the whole.

    Exposures add: N^2 = sum of N_i^2 (common practice). Ambient scales with the time, flash
    doesn't. A flash meter's reading holds the ambient light of its gate time too (ISO 10157:1991,
    scope): holds says whether the flash readings are alone or with it. n pops give n times the
    flash. share or over_ambient_ev ask for what to change; needed_ev, 2 log2 N of the light that an
    aperture asks for at the meter, for what the flash needs.
    """
    holds = _check(flashes, ambient, total, holds, pops)
    scale = math.log2(positive(iso, "ISO") / 100.0)
    readings = {f"flash reading {i}": f for i, f in enumerate(flashes, start=1)}
    named = {"ambient reading": ambient, "reading of the whole": total}
    ledger = Ledger(readings=readings | {n: m for n, m in named.items() if m is not None})
    singles = [ledger.light(name, scale) for name in readings]
    still: Light | None = None
    if ambient is not None:
        if time_s is None:
            raise ExposureError(
                "ambient light needs the camera's time", "mix", "Add {time}, such as 1/60", "time"
            )
        still = ledger.light("ambient reading", scale + math.log2(positive(time_s, "time", "s")))
    flash = _together(singles)
    if total is not None:
        whole = ledger.light("reading of the whole", scale)
        if still is not None:
            flash = _rest(whole, still, _STILL)
        elif flash is not None:
            still = _rest(whole, flash, "flash")
    elif flash is not None and still is not None and holds == "with-ambient":
        flash = _rest(flash, still, _STILL)
    if flash is None:
        raise ExposureError("there is no flash", "mix", 'Add {flash} "f/8 ISO 100"', "flash")
    flash = flash.times(pops)
    turn = None if needed_ev is None else _turn(ledger, flash, still, needed_ev)
    over = None if still is None else ledger.stops_over(flash, still)
    wanted = lighting.flash_share(over_ambient_ev) if over_ambient_ev is not None else share
    if wanted is not None and over is None:
        raise ExposureError(
            "a share of flash needs the ambient light",
            "mix",
            'Add {ambient} "EV 8.0" and {time}',
            "ambient",
        )
    return Mix(
        iso=iso,
        time_s=time_s,
        holds=holds,
        pops=pops,
        flashes=tuple(_part(ledger, light) for light in singles),
        flash=_part(ledger, flash),
        ambient=None if still is None else _part(ledger, still),
        total=_part(ledger, flash if still is None else flash + still),
        share=None if over is None else _share(over),
        over_ambient_ev=over,
        change=None if wanted is None or over is None else _change(over.value, wanted, time_s),
        corrections=tuple(corrections),
        lost_ev=lost_ev(corrections),
        turn=turn,
        coarse=next((m.coarse for m in ledger.readings.values() if m.coarse is not None), None),
    )


def _turn(ledger: Ledger, flash: Light, still: Light | None, needed_ev: float) -> Turn:
    """What flash must become so that with the ambient light it makes N^2: N_f^2 = N^2 - N_a^2."""
    needed = Light(amount=exp2(needed_ev), slope={})
    ambient_over = None if still is None else still.stops - needed_ev
    rest = needed if still is None else needed - still
    if rest.amount <= 1e-6 * needed.amount:
        return Turn(change_ev=None, ambient_over_ev=ambient_over)
    return Turn(change_ev=ledger.stops_over(rest, flash), ambient_over_ev=ambient_over)


def _check(
    flashes: Sequence[Metered],
    ambient: Metered | None,
    total: Metered | None,
    holds: Holds | None,
    pops: int,
) -> Holds | None:
    if pops < 1:
        raise ExposureError(
            f"{pops} isn't a number of pops", "", "Give a whole number from 1 up", "pops"
        )
    if total is not None and bool(flashes) is (ambient is not None):
        raise ExposureError(
            "from the whole one part can be found, where the other one is given",
            "mix",
            "Give {total} with either {flash} or {ambient}",
            "total",
        )
    if total is not None and pops != 1:
        raise ExposureError("pops don't go with a whole", "", "Leave {pops} or {total} out", "pops")
    if total is not None:
        return "alone" if flashes else None
    if flashes and ambient is not None and holds is None:
        raise ExposureError(
            "a flash meter's reading may hold the ambient light of its gate time",
            "mix",
            "Say how the flash was read: {flash_reading} alone, or {flash_reading} with-ambient",
            "flash_reading",
        )
    if holds == "with-ambient" and len(flashes) > 1:
        raise ExposureError(
            "several flash readings that each hold the ambient light can't be added",
            "mix",
            "Read all flashes in one pop, or each alone",
        )
    return holds


def _together(lights: Sequence[Light]) -> Light | None:
    whole: Light | None = None
    for light in lights:
        whole = light if whole is None else whole + light
    return whole


def _rest(whole: Light, part: Light, name: str) -> Light:
    """What is left of a whole without a part: N^2 = N_whole^2 - N_part^2."""
    rest = whole - part
    if rest.amount <= 1e-6 * whole.amount:
        alone, both = (format_f_tenths(math.sqrt(each.amount)) for each in (part, whole))
        much = "as much as" if alone == both else "more than"
        raise ExposureError(
            f"{name} light alone is {alone}, {much} flash and ambient light together ({both})",
            "mix",
            "Read both at the same place, the ambient light for the camera's time; a flash that "
            "was read alone is given as such",
            name,
        )
    return rest


_STILL: Final = "ambient"


def _part(ledger: Ledger, light: Light) -> Part:
    return Part(stops=ledger.stops(light), f_number=math.sqrt(light.amount))


def _share(over: Estimate) -> Estimate:
    """Share of flash with its interval: a monotonic function of the difference in stops."""
    value = lighting.flash_share(over.value)
    return Estimate(
        value=value,
        u=_LN2 * value * (1.0 - value) * over.u,
        low=lighting.flash_share(over.low),
        high=lighting.flash_share(over.high),
    )


def _change(d: float, share: float, time_s: float | None) -> Change:
    ways = lighting.reach_flash_share(d, share)
    return Change(
        share=share,
        over_ambient_ev=lighting.flash_over_ambient_from_share(share),
        power_ev=ways.flash_power_ev,
        distance_factor=math.exp2(-0.5 * ways.flash_power_ev),
        close_after_power_ev=ways.close_after_power_ev,
        time_ev=ways.time_ev,
        time_factor=ways.time_factor,
        time_s=None if time_s is None else time_s * ways.time_factor,
        close_after_time_ev=ways.close_after_time_ev,
    )
