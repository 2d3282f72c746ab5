"""How lights that were each read alone stand to the key, what they sum up to, which to turn."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from profiler.errors import ExposureError, about
from profiler.exposure import lighting
from profiler.exposure.modes import is_flash
from profiler.exposure.readings import parse_reading
from profiler.onset.camera import parse_aperture, parse_shutter
from profiler.onset.corrections import Texts, corrections_of, lost_ev
from profiler.onset.light_sum import Ledger, Light
from profiler.onset.metered import Coarse, Metered, read_meter_texts
from profiler.records import Estimate, Meter

_LN2: Final = math.log(2.0)
KEY: Final = "key"
FILL: Final = "fill"
_WANTED: Final = re.compile(
    r"(?P<ratio>\d+(?:[.,]\d+)?)\s*(?::\s*1)?"
    r"|(?P<sign>[+-])?\s*(?P<stops>\d+(?:[.,]\d+)?)\s*stops?\s*(?P<way>under|over)?"
    r"|(?P<equal>equal)"
)


@dataclass(frozen=True, kw_only=True)
class RatioAsk:
    """How key and other lights stand to each other, each read alone at the subject.

    fill: one reading or several, each perhaps with its name ("hair=f/5.6 ISO 100"). wanted: how
    lights should stand to the key, such as "hair=1 stop under" or "4:1" (key : light). aperture:
    one that all of them should sum up to at iso, with time where they aren't flash; loss as in
    OnBody. ambient_mode: how they were read; None takes the usual one for the form of each reading.
    """

    key: str
    fill: str | Sequence[str]
    wanted: Sequence[str] = ()
    aperture: str | None = None
    time: str | None = None
    iso: int = 100
    loss: Texts = ()
    ambient_mode: str | None = None


@dataclass(frozen=True, kw_only=True)
class Lamp:
    """One of the lights, read alone.

    over_key_ev: stops over the key (negative: under), none of the key itself. share: its part of
    the sum. turn_ev: stops to turn it up (negative: down), 0 where it may stay.
    """

    name: str
    reading: str
    over_key_ev: Estimate | None
    share: float
    turn_ev: float


@dataclass(frozen=True, kw_only=True)
class Ratio:
    """Lighting ratio of the key to all other lights together, by both definitions; each lamp.

    lighting_ratio: (key + fill) : fill, lit side over shadow side; key_to_fill: key : fill, where
    fill is the sum of the other lights. total_ev100: of all lights (flash: 2 log2 N at ISO 100).
    wanted: lights that have a place; aperture: the one that the sum is turned for; lost_ev: what
    filters and the like take from it. coarse: as in Metered, of the first reading that is.
    """

    key_over_fill_ev: Estimate
    lighting_ratio: Estimate
    key_to_fill: Estimate
    lit_over_shadow_ev: float
    total_ev100: Estimate
    flash: bool
    iso: int
    wanted: tuple[str, ...]
    aperture: str
    lost_ev: float
    lamps: tuple[Lamp, ...]
    coarse: Coarse | None = None


def ratio(
    key: Metered,
    *fills: Metered,
    names: Sequence[str] = (FILL,),
    wanted: Mapping[str, float] | None = None,
    needed_ev100: float | None = None,
    iso: int = 100,
    aperture: str = "",
    lost: float = 0.0,
) -> Ratio:
    """Return how lights stand to the key and what they sum up to.

    (key + fill) : fill is 800 with 200 -> 5:1 (Wikipedia "Lighting ratio", crediting the ASC); an
    older edition of that text has 4:1, which is plain key : fill. wanted: name -> stops over the
    key; needed_ev100: what the sum should be. Lights add, so the key and all others are turned
    alike for the sum, after the others were turned for their places.
    """
    wanted = wanted or {}
    readings = {f"{KEY} reading": key}
    readings |= {f"{name} reading": m for name, m in zip(names, fills, strict=True)}
    ledger = Ledger(readings=readings)
    lights = [ledger.light(name, 0.0) for name in readings]
    first, others = lights[0], lights[1:]
    rest = _sum(others)
    whole = first + rest
    over = [ledger.stops_over(light, first) for light in others]
    turns = [0.0] + [
        wanted[name] - d.value if name in wanted else 0.0
        for name, d in zip(names, over, strict=True)
    ]
    if needed_ev100 is not None:
        amounts = [light.amount * 2.0**t for light, t in zip(lights, turns, strict=True)]
        shift = needed_ev100 - math.log2(math.fsum(amounts))
        turns = [t + shift for t in turns]
    d = ledger.stops_over(first, rest)
    plain = [lighting.key_to_fill(ev) for ev in (d.value, d.low, d.high)]
    return Ratio(
        key_over_fill_ev=d,
        lighting_ratio=Estimate(
            value=plain[0] + 1.0, u=_LN2 * plain[0] * d.u, low=plain[1] + 1.0, high=plain[2] + 1.0
        ),
        key_to_fill=Estimate(value=plain[0], u=_LN2 * plain[0] * d.u, low=plain[1], high=plain[2]),
        lit_over_shadow_ev=lighting.lit_over_shadow_ev(plain[0] + 1.0),
        total_ev100=ledger.stops(whole),
        flash=is_flash(key.mode),
        iso=iso,
        wanted=tuple(wanted),
        aperture=aperture,
        lost_ev=lost,
        lamps=tuple(
            Lamp(
                name=name,
                reading=", ".join(m.texts),
                over_key_ev=apart,
                share=light.amount / whole.amount,
                turn_ev=turn + 0.0,
            )
            for name, m, apart, light, turn in zip(
                (KEY, *names), (key, *fills), (None, *over), lights, turns, strict=True
            )
        ),
        coarse=next((m.coarse for m in (key, *fills) if m.coarse is not None), None),
    )


def ratio_of(ask: RatioAsk, meter: Meter) -> Ratio:
    """Return how lights stand to the key, from readings as they were typed."""
    typed = [ask.fill] if isinstance(ask.fill, str) else list(ask.fill)
    if not typed:
        raise ExposureError("there is no other light", "", "Add {fill}", "fill")
    named = _named(typed)
    names = [name for name, _ in named]
    for name in (*names, KEY):
        if (*names, KEY).count(name) > 1:
            raise ExposureError(f"two lights are called {name!r}", "", "Give each a name", "fill")
    with about("key"):
        key = _read(ask.key, ask.ambient_mode, meter, KEY)
    with about("fill"):
        fills = [_read(text, ask.ambient_mode, meter, name) for name, text in named]
        for name, light in zip(names, fills, strict=True):
            if is_flash(light.mode) != is_flash(key.mode):
                raise ExposureError(
                    "flash and steady light don't compare without a time",
                    name,
                    "Read all lights in one mode; {ambient} with {flash} adds the two",
                    "fill",
                )
    with about("wanted"):
        wanted = dict(_wanted(text, names) for text in ask.wanted)
    needed, label, lost = _needed(ask, flash=is_flash(key.mode))
    return ratio(
        key,
        *fills,
        names=names,
        wanted=wanted,
        needed_ev100=needed,
        iso=ask.iso,
        aperture=label,
        lost=lost,
    )


def _read(text: str, mode: str | None, meter: Meter, where: str) -> Metered:
    first = text.split(";")[0]
    usual = mode or parse_reading(first, f"{where} '{first.strip()}'").usual_mode
    return read_meter_texts(text, usual, meter, where=where)


def _named(typed: Sequence[str]) -> list[tuple[str, str]]:
    """Names and readings; a light without a name is the fill, or one of several counted."""
    split = [_split(text) for text in typed]
    nameless = [i for i, (name, _) in enumerate(split) if not name]
    called = [FILL] if len(nameless) == 1 else [f"{FILL} {k + 1}" for k in range(len(nameless))]
    for i, name in zip(nameless, called, strict=True):
        split[i] = (name, split[i][1])
    return split


def _split(text: str) -> tuple[str, str]:
    """Name, empty where none is given, and reading; `EV=10` is a reading."""
    name, equals, reading = text.rpartition("=")
    name = " ".join(name.split())
    if equals and re.fullmatch(r"(?i)(ev|lv|iso|ei|asa).*", name.rsplit(" ", 1)[-1] or "ev"):
        name, reading = "", text
    return name, reading.strip()


def _wanted(text: str, names: Sequence[str]) -> tuple[str, float]:
    """Light -> stops that it should lie over the key (negative: under)."""
    name, equals, target = text.rpartition("=")
    name = " ".join(name.split())
    if not equals and len(names) == 1:
        name = names[0]
    if name not in names:
        raise ExposureError(
            f"there is no light {name!r}" if name else "it names no light",
            f"'{text}'",
            f'Write such as "{names[0]}=1 stop under"; the lights are {", ".join(names)}',
            "wanted",
        )
    found = _WANTED.fullmatch(" ".join(target.lower().split()))
    if found is None or (found["ratio"] and not _number(found["ratio"]) > 0.0):
        raise ExposureError(
            "it isn't a place beside the key",
            f"'{text}'",
            "Write 1 stop under, 0.5 stop over, equal, or key : light such as 4:1",
            "wanted",
        )
    if found["equal"]:
        return name, 0.0
    if found["ratio"]:
        return name, 0.0 - math.log2(_number(found["ratio"]))
    if not found["sign"] and not found["way"]:
        raise ExposureError(
            "stops alone may be over or under the key",
            f"'{text}'",
            f"Write {found['stops']} stops under, or over",
            "wanted",
        )
    sign = -1.0 if found["sign"] == "-" or found["way"] == "under" else 1.0
    return name, sign * _number(found["stops"])


def _needed(ask: RatioAsk, *, flash: bool) -> tuple[float | None, str, float]:
    """What the sum should be at ISO 100, the aperture's label, and what is lost before it."""
    lost = lost_ev(corrections_of(ask.loss))
    if ask.aperture is None:
        return None, "", lost
    with about("aperture"):
        aperture = parse_aperture(ask.aperture)
    needed = 2.0 * math.log2(aperture.exact()) - math.log2(ask.iso / 100.0) + lost
    if flash:
        return needed, aperture.label, lost
    if ask.time is None:
        raise ExposureError(
            "steady light needs the camera's time for an aperture",
            "",
            "Add {time}, such as 1/60",
            "time",
        )
    with about("time"):
        shutter = parse_shutter(ask.time)
    return needed - math.log2(shutter.seconds()), f"{aperture.label} {shutter.label}", lost


def _sum(lights: Sequence[Light]) -> Light:
    whole = lights[0]
    for light in lights[1:]:
        whole = whole + light
    return whole


def _number(text: str) -> float:
    return float(text.replace(",", "."))
