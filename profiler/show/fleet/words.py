"""Names and figures of a fleet in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from profiler.exposure.wording import format_ev
from profiler.fleet.rows import Row, Value
from profiler.records import Estimate
from profiler.show.answer import Table
from profiler.show.calibration.identity import full_name
from profiler.show.words import signed

NONE = "–"
"""Stands in a table where there is no figure."""
MOST_LISTED = 40
"""Bodies or differences that an answer lists and draws; more can't be read."""
QUANTITY_NAMES = {
    "offset_ev": "offset",
    "clip_headroom_ev": "clip headroom",
    "linear_headroom_ev": "linear headroom",
    "footroom_snr1_ev": "footroom at SNR 1",
    "footroom_snr10_ev": "footroom at SNR 10",
    "footroom_snr40_ev": "footroom at SNR 40",
}


OWN_DOUBTS = {
    "undated": "Nobody knows the day of shooting, so that no verdict expires",
    "meter-certificate-expired": "The meter's certificate had run out on the day of shooting",
    "stale": "The files couldn't be reached at the last run, so that an earlier result stands",
    "duplicate": "The frames are those of another series, which counts",
}
"""Name of a doubt that the lab's own records cast -> what it means."""


@dataclass(frozen=True, kw_only=True)
class FleetTable(Table):
    """A table whose rows are each about one body; odd: rows that stand out."""

    about: tuple[Row, ...] = ()
    odd: frozenset[int] = frozenset()


class Cases:
    """Names cases of a fleet: ISO, mode, light; lens and aim where the fleet has several."""

    def __init__(self, rows: Sequence[Row]) -> None:
        self._lenses = len({row.lens_model for row in rows}) > 1
        self._aims = len({row.aim_stops for row in rows}) > 1

    def words(self, case: tuple[str, ...], aim_stops: float | None, quantity: str) -> str:
        """Return the name of a case; the aim counts for an offset only."""
        words = case_words(case)
        if self._lenses:
            words += f", {case[0] or 'lens not named'}"
        if self._aims and aim_stops is not None and quantity == "offset_ev":
            words += f", aim {aim_stops:.2f}"
        return words


def chance_words(probability: float) -> str:
    """Return a probability of chance with two figures, tiny ones as a bound."""
    return "under 1e-6" if probability < 1e-6 else f"{probability:.2g}"


def share_words(probability: float) -> str:
    """Return a probability in per cent, never as certainty."""
    if probability < 0.001:
        return "under 0.1 %"
    return "over 99.9 %" if probability > 0.999 else f"{100.0 * probability:.1f} %"


def body_name(row: Row) -> str:
    """Return the asset tag, the make and model, the serial of a body."""
    return body_words(row.body, row.asset_tag)


def body_words(body: tuple[str, str, str], tag: str) -> str:
    """Return the same from the parts; a body without a serial is called by its tag or series."""
    make, model, serial = body
    named = f"{full_name(make, model) or 'body'} {serial}"
    return f"{tag} ({named})" if tag and not serial.startswith("tag ") else named


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


def state_of(row: Row) -> str:
    """Return in which state a body was measured, `as found` or `as left`; empty if not told."""
    return row.state.replace("-", " ")


def gear_words(row: Row) -> str:
    """Return lens and meter."""
    return ", ".join(filter(None, (row.lens_model, meter_words(row))))


def case_words(case: tuple[str, ...]) -> str:
    """Return `ISO 400, spot, daylight`."""
    _, mode, light, iso = case
    return f"ISO {int(iso)}, {mode}, {light}"


def interval(value_ev: float, low_ev: float, high_ev: float) -> str:
    """Return `+0.12 ± 0.20` with the digits that the 95 % interval deserves."""
    return signed(Estimate(value=value_ev, u=0.0, low=low_ev, high=high_ev))


def around(value_ev: float, half_ev: float) -> str:
    """Return `+0.12 ± 0.20`: a value with half its 95 % interval."""
    return interval(value_ev, value_ev - half_ev, value_ev + half_ev)


def value_words(value: Value | None, *, sign: bool = True) -> str:
    """Return a quantity with half its 95 % interval; "at least" for a bound, a dash for none."""
    if value is None:
        return NONE
    least = "at least " if value.lower_bound else ""
    words = interval(value.value, value.low, value.high)
    return least + (words if sign else words.removeprefix("+"))


def limits_words(low_ev: float | None, high_ev: float | None) -> str:
    """Return `-0.30 to +0.12`; one limit alone as `at least` or `at most`, a dash for none."""
    if low_ev is None:
        return NONE if high_ev is None else f"at most {two_places(high_ev)}"
    if high_ev is None:
        return f"at least {two_places(low_ev)}"
    return f"{two_places(low_ev)} to {two_places(high_ev)}"


def two_places(value_ev: float) -> str:
    """Return `+0.12`; zero has no sign."""
    return format_ev(value_ev).removesuffix(" EV")


def capital(text: str) -> str:
    """Return the text with a capital first letter."""
    return text[:1].upper() + text[1:]
