"""Figures and names of a fleet as its pages show them."""

from __future__ import annotations

from profiler.exposure.wording import format_ev
from profiler.fleet.rows import Row, Value
from profiler.records import Estimate
from profiler.show.text import full_name
from profiler.show.words import signed


def interval(value_ev: float, low_ev: float, high_ev: float) -> str:
    """Return `+0.12 ± 0.20` with the digits that the 95 % interval deserves."""
    return signed(Estimate(value=value_ev, u=0.0, low=low_ev, high=high_ev))


def value_words(value: Value | None, *, sign: bool = True) -> str:
    """Return a quantity with half its 95 % interval; "at least" for a bound, a dash for none."""
    if value is None:
        return "–"
    least = "at least " if value.lower_bound else ""
    words = interval(value.value, value.low, value.high)
    return least + (words if sign else words.removeprefix("+"))


def limits_words(low_ev: float | None, high_ev: float | None) -> str:
    """Return `-0.30 to +0.12`, a dash without limits."""
    if low_ev is None or high_ev is None:
        return "–"
    return f"{two_places(low_ev)} to {two_places(high_ev)}"


def two_places(value_ev: float) -> str:
    """Return `+0.12`; zero has no sign."""
    return format_ev(value_ev).removesuffix(" EV")


def short_name(row: Row) -> str:
    """Return the tag of a body, else its serial, else the series it came from."""
    return row.asset_tag or row.camera_serial or row.series


def model_words(row: Row) -> str:
    """Return model and serial of a body, the serial only where it isn't its short name."""
    serial = row.camera_serial if row.asset_tag else ""
    return f"{full_name(row.camera_make, row.camera_model)} {serial}".strip()


def meter_words(row: Row) -> str:
    """Return make, model and serial of the meter."""
    name = full_name(row.meter_make, row.meter_model) or "a meter not named"
    return f"{name} {row.meter_serial}".strip()


def gear_words(row: Row) -> str:
    """Return lens and meter."""
    return ", ".join(filter(None, (row.lens_model, meter_words(row))))


def many(number: int, one: str, more: str = "") -> str:
    """Return `1 body`, `2 bodies`."""
    return f"{number} {one if number == 1 else more or one + 's'}"
