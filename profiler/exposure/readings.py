"""Readings as the meter shows them."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Final, Literal

from profiler.errors import SheetError
from profiler.exposure.f_number_typed import check_f_number, f_number_text
from profiler.exposure.light import (
    ev100_from_ev_at_iso,
    ev100_from_illuminance,
    ev100_from_luminance,
    ev_from_settings,
)
from profiler.exposure.modes import constant_for_mode, is_flash, receptor
from profiler.exposure.reading_tokens import WRITE_ONE, Token, tokens
from profiler.exposure.stops import StopStep, exact_f_number, exact_time_s
from profiler.exposure.units import cd_m2_from_fl, lx_from_fc
from profiler.records import MODES, Meter

Form = Literal["ev", "illuminance", "luminance", "settings", "dark"]
Rule = Literal["exact", "as-marked"]
RULES: Final[tuple[Rule, ...]] = ("exact", "as-marked")
_LX: Final = {"klx": 1000.0}
_PART_WORDS: Final = {"1/2": "half a stop", "1/3": "a third of a stop"}


@dataclass(frozen=True, kw_only=True)
class Reading:
    """What the meter showed, in its own form; numbers as marked, nothing converted yet.

    form: `ev` (value, perhaps iso), `illuminance` and `luminance` (value with unit lx, klx, fc,
    cd/m2 or fL), `settings` (aperture with its word f or T and the part of a stop more, iso with
    its word ISO or EI; time_s, or angle_deg with fps, or none of them for flash), `dark` (lens cap
    on). time_or_part: whether its time was typed as 1/2 or 1/3 without a unit, so that it may be a
    part of a stop where no time counts. text: as typed. Neither takes part in comparisons.
    """

    form: Form
    value: float | None = None
    unit: str = ""
    iso: float | None = None
    iso_word: str = "ISO"
    aperture: float | None = None
    aperture_word: str = "f"
    more: Fraction = Fraction(0)
    time_s: float | None = None
    angle_deg: float | None = None
    fps: float | None = None
    time_or_part: bool = field(default=False, compare=False)
    text: str = field(default="", compare=False)

    def __post_init__(self) -> None:
        if self.form in ("ev", "illuminance", "luminance") and self.value is None:
            raise ValueError(f"a reading of form {self.form} needs its value")
        units = {"illuminance": ("lx", "klx", "fc"), "luminance": ("cd/m2", "fL")}
        if self.unit not in units.get(self.form, ("",)):
            raise ValueError(f"a reading of form {self.form} has no unit {self.unit!r}")
        if self.form == "settings" and (self.aperture is None or self.iso is None):
            raise ValueError("a reading of form settings needs aperture and iso")
        if (self.angle_deg is None) is not (self.fps is None):
            raise ValueError("angle_deg and fps go together")
        if not 0 <= self.more < 1:
            raise ValueError(f"more must be a part of a stop, not {self.more}")

    @property
    def is_dark(self) -> bool:
        """Whether this marks a lens-cap frame, which no meter asked for."""
        return self.form == "dark"

    @property
    def usual_mode(self) -> str:
        """The mode that a reading of this form mostly comes from, where nothing else is said."""
        if self.form == "luminance":
            return "spot"
        timed = self.time_s is not None or self.fps is not None
        return "flash-flat" if self.form == "settings" and not timed else "incident-flat"

    def suits(self, mode: str) -> bool:
        """Return whether a meter shows such a reading in a mode."""
        if self.is_dark:
            return False
        timed = self.time_s is not None or self.fps is not None
        if is_flash(mode):
            return self.form == "settings" and self.fps is None
        if self.form == "settings":
            return timed
        if self.form == "ev":
            return True
        return (receptor(mode) == "spot") is (self.form == "luminance")

    def f_number(self, rule: Rule = "exact", series: StopStep = "third") -> float:
        """f-number (or T-stop) that the meter means: mark x 2^(more/2).

        Meters count from exact stops (from memory): `f/5.6+3` is 2^(5/2) x 2^(0.3/2) = 6.2767. With
        the rule `as-marked` it is 5.6 x 2^(0.3/2) = 6.2136, 0.029 EV less.
        """
        _known_rule(rule)
        if self.aperture is None:
            raise ValueError(f"a reading of form {self.form} has no aperture")
        marked = self.aperture
        start = exact_f_number(marked, series) if rule == "exact" else marked
        return start * math.exp2(float(self.more) / 2.0)

    def exposure_time_s(self, rule: Rule = "exact", series: StopStep = "third") -> float | None:
        """Time in s that the meter means, None where it shows none; angle/(360 fps) has no mark."""
        _known_rule(rule)
        if self.angle_deg is not None and self.fps is not None:
            return self.angle_deg / (360.0 * self.fps)
        if self.time_s is None:
            return None
        return exact_time_s(self.time_s, series) if rule == "exact" else self.time_s

    def metered_ev100(
        self,
        mode: str,
        meter: Meter,
        rule: Rule = "exact",
        series: StopStep = "third",
        where: str | None = None,
    ) -> float:
        """EV at ISO 100 that the meter asks for; in flash modes 2 log2 N - log2(S/100).

        Continuous modes: log2(N^2/t) - log2(S/100), log2(100 E/C), log2(100 L/K). Flash modes: the
        time does not count, so this is an EV without T_v, to be held against 2 log2 N alone.
        The ISO is taken as written: the exact member is at most 0.023 EV away, and the same number
        goes in and out again. Raises SheetError where the form doesn't suit the mode.
        """
        place = where if where is not None else _place(self.text or format_reading(self))
        if mode not in MODES:
            raise SheetError(f"unknown mode '{mode}'", place, f"Write one of {', '.join(MODES)}")
        self._check_mode(mode, place)
        if self.form == "settings":
            f_number, time_s = self.f_number(rule, series), self.exposure_time_s(rule, series)
            if is_flash(mode) or time_s is None:
                time_s = 1.0
            return ev100_from_ev_at_iso(ev_from_settings(f_number, time_s), self.iso or 100.0)
        value = self.value if self.value is not None else math.nan
        constant = constant_for_mode(mode, meter)
        if self.form == "illuminance":
            lx = lx_from_fc(value) if self.unit == "fc" else value * _LX.get(self.unit, 1.0)
            return ev100_from_illuminance(lx, constant)
        if self.form == "luminance":
            cd_m2 = cd_m2_from_fl(value) if self.unit == "fL" else value
            return ev100_from_luminance(cd_m2, constant)
        return ev100_from_ev_at_iso(value, self.iso or 100.0)

    def _check_mode(self, mode: str, where: str) -> None:
        """SheetError where this form of reading can't come from that mode."""
        if self.form == "dark":
            raise SheetError(
                "a lens-cap frame has no metered exposure",
                where,
                "Use dark frames for black only, or write what the meter showed",
            )
        if is_flash(mode) and (self.form != "settings" or self.fps is not None):
            raise SheetError(
                f"mode {mode} needs the f-number that the flash meter showed",
                where,
                "Write f-number and ISO, such as f/11+2 ISO 100, or set a mode without flash",
            )
        if self.form == "illuminance" and receptor(mode) == "spot":
            raise SheetError(
                f"{self.unit} is an incident reading, but the mode is {mode}",
                where,
                "Set the mode to incident-flat or incident-dome, or write cd/m2, fL or EV",
            )
        if self.form == "luminance" and receptor(mode) != "spot":
            raise SheetError(
                f"{self.unit} is a spot reading, but the mode is {mode}",
                where,
                "Set the mode to spot, or write lx, fc or EV",
            )
        if is_flash(mode) and self.time_or_part:
            typed = "1/2" if self.time_s == 0.5 else "1/3"
            size = f"{_plain(self.aperture or 0.0)}+{typed}"
            raise SheetError(
                f"'{typed}' may be a part of a stop or a time",
                where,
                f"Write {self.aperture_word}/{size} for {_PART_WORDS[typed]} more, or "
                f"{typed} s where the meter shows that time",
            )
        no_time = self.form == "settings" and self.time_s is None and self.fps is None
        if no_time and not is_flash(mode):
            raise SheetError(
                f"the reading has no time, but the mode is {mode}",
                where,
                "Add the time, such as f/8 1/125 ISO 100, or set the mode to flash-dome, "
                "flash-flat or flash-spot",
            )


def parse_reading(text: str, where: str | None = None) -> Reading:
    """Reading that the text says; SheetError, with the accepted forms, where it says none.

    Capitals, blanks and the order of the quantities don't matter. `where` names the place for the
    error message, such as a row of the sheet.

    >>> str(parse_reading("f/5.6+3 1/60 ISO 400").more)
    '3/10'
    >>> parse_reading("10,3 EV").value
    10.3
    """
    place = where if where is not None else _place(text)
    found = tokens(text, place)
    if not found:
        raise SheetError("the reading is empty", place, WRITE_ONE)
    for kind in ("dark", "lux", "candela", "ev"):
        if kind in found:
            return _single(kind, found, text, place)
    return _settings(found, text, place)


def format_reading(reading: Reading) -> str:
    """The reading in its canonical form; parse_reading gives the same reading back.

    >>> format_reading(parse_reading("F5.6 +3, 1/60s iso400"))
    'f/5.6+3 1/60 ISO 400'
    """
    if reading.form == "dark":
        return "dark"
    iso = "" if reading.iso is None else f" {reading.iso_word} {_plain(reading.iso)}"
    if reading.form == "ev":
        return f"EV {_plain(reading.value or 0.0)}{iso}"
    if reading.form != "settings":
        return f"{_plain(reading.value or 0.0)} {reading.unit}"
    slash = "/" if reading.aperture_word == "f" else ""
    marked = reading.aperture or 0.0
    shown = f_number_text(marked) if slash else _plain(marked)
    aperture = f"{reading.aperture_word}{slash}{shown}"
    tenths = 10 * reading.more
    aperture += f"+{tenths if tenths.denominator == 1 else reading.more}" if reading.more else ""
    time = f" {_time(reading.time_s)}" if reading.time_s is not None else ""
    if reading.angle_deg is not None and reading.fps is not None:
        time = f" {_plain(reading.angle_deg)}deg {_plain(reading.fps)}fps"
    return f"{aperture}{time}{iso}"


def _single(kind: str, found: dict[str, Token], text: str, where: str) -> Reading:
    """Reading made of one quantity; only an EV may carry an ISO."""
    token = found[kind]
    others = [name for name in found if name != kind and not (kind == "ev" and name == "iso")]
    if others:
        name = {"dark": "'dark'", "ev": "an EV"}.get(kind, f"a reading in {token.unit}")
        raise SheetError(f"{name} stands alone, but there is more in the reading", where, WRITE_ONE)
    if kind == "dark":
        return Reading(form="dark", text=text)
    if kind == "ev":
        iso = found.get("iso")
        if token.unit == "LV" and iso is not None and iso.value != 100.0:
            raise SheetError(
                "LV is the EV at ISO 100, but another ISO stands beside it",
                where,
                f"Write LV {token.typed.strip()}, or EV {token.typed.strip()} with the ISO",
            )
        return Reading(
            form="ev",
            value=token.value,
            iso=iso.value if iso else None,
            iso_word=iso.unit if iso else "ISO",
            text=text,
        )
    form: Form = "illuminance" if kind == "lux" else "luminance"
    return Reading(form=form, value=token.value, unit=token.unit, text=text)


def _settings(found: dict[str, Token], text: str, where: str) -> Reading:
    """Reading made of aperture, ISO, perhaps a time or angle and frame rate."""
    if "f" in found and "t" in found:
        raise SheetError("both an f-number and a T-stop", where, "Write the one that counts")
    aperture = found.get("f") or found.get("t")
    if aperture is None:
        raise SheetError("no aperture, EV, illuminance or luminance", where, WRITE_ONE)
    if aperture.kind == "f":
        check_f_number(aperture.typed, aperture.value, where)
    iso = found.get("iso")
    if iso is None:
        raise SheetError(
            "no ISO value",
            where,
            "Add the ISO that was set on the meter, such as f/8 1/125 ISO 100",
        )
    angle, fps, time = found.get("angle"), found.get("fps"), found.get("time")
    if (angle is None) is not (fps is None):
        missing = "frame rate" if fps is None else "shutter angle"
        raise SheetError(f"no {missing}", where, "Write both, such as T2.8 180deg 24fps EI 800")
    if angle is not None and time is not None:
        raise SheetError("both a time and a shutter angle", where, "Write the one that counts")
    return Reading(
        form="settings",
        iso=iso.value,
        iso_word=iso.unit,
        aperture=aperture.value,
        aperture_word="f" if aperture.kind == "f" else "T",
        more=aperture.more,
        time_s=time.value if time else None,
        angle_deg=angle.value if angle else None,
        fps=fps.value if fps else None,
        time_or_part=time is not None and not time.unit and time.typed in ("2", "3"),
        text=text,
    )


def _known_rule(rule: str) -> None:
    if rule not in RULES:
        raise ValueError(f"rule must be one of {', '.join(RULES)}, not {rule!r}")


def _place(text: str) -> str:
    short = text.strip()
    return f"reading '{short if len(short) <= 60 else short[:60] + '...'}'"


def _plain(value: float) -> str:
    """Shortest digits that give the number back, without an exponent."""
    return str(round(value)) if value == round(value) else format(Decimal(repr(value)), "f")


def _time(time_s: float) -> str:
    inverse = round(1.0 / time_s)
    as_fraction = inverse > 2 and 1.0 / inverse == time_s
    return f"1/{inverse}" if as_fraction else f"{_plain(time_s)} s"
