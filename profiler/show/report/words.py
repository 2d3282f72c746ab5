"""Sentences of a report that explain its numbers."""

from __future__ import annotations

from dataclasses import dataclass

from profiler import flags, standards
from profiler.exposure.focal_plane import (
    metered_focal_plane_exposure_lx_s,
    stops_below_saturation,
)
from profiler.exposure.wording import format_ev, format_f_number
from profiler.records import Flag, Meter
from profiler.results import MeterIdentity, ProfileData, Result
from profiler.show.report.table import listed
from profiler.show.text import (
    aim_words,
    footroom_words,
    frame_words,
    full_name,
    linear_words,
    time_words,
)
from profiler.show.words import three_figures


@dataclass(frozen=True, kw_only=True)
class FlagWords:
    """A flag in words: where and how much, what it means, what to do."""

    name: str
    size: str
    meaning: str
    advice: str


def flag_list(result: Result) -> tuple[FlagWords, ...]:
    """Return the flags of a result in words."""
    return tuple(_flag(flag) for flag in result.flags)


def _flag(flag: Flag) -> FlagWords:
    size = format_ev(flag.size) if flag.unit == "EV" else f"{three_figures(flag.size)} {flag.unit}"
    parts = [flag.where, size, flag.detail]
    return FlagWords(
        name=flag.name,
        size=", ".join(part for part in parts if part),
        meaning=flags.meaning(flag),
        advice=flags.advice(flag),
    )


def identity(profile: ProfileData) -> tuple[tuple[str, str], ...]:
    """Return body, lens, meter with serials, the light and the date, as pairs of name and text."""
    camera, lens, meter = profile.camera, profile.lens, profile.meter
    body = full_name(camera.make, camera.model) or "not named in its files"
    name = full_name(meter.make, meter.model) or "not named"
    lights = listed(list(dict.fromkeys(result.light for result in profile.results)))
    return (
        ("body", body + serial(camera.serial)),
        ("lens", lens.model or "not named"),
        ("meter", name + serial(meter.serial)),
        ("its constants", constants(meter)),
        ("light", lights),
        ("date", day(profile)),
    )


def serial(number: str) -> str:
    """Return a serial number as it stands after a name."""
    return f", serial {number}" if number else ""


def constants(meter: MeterIdentity) -> str:
    """Return the constants that the readings were taken by."""
    step = (
        "its step as typed" if meter.resolution_ev is None else f"step {meter.resolution_ev:g} EV"
    )
    return (
        f"K {meter.k_cd_m2:g} cd/m²; C {meter.c_flat_lx:g} lx flat, {meter.c_dome_lx:g} lx dome; "
        f"repeats to ±{meter.repeatability_ev:g} EV, {step}"
    )


def day(profile: ProfileData) -> str:
    """Return the day on which its frames were shot; of the fit where no frame tells it."""
    return (profile.provenance.taken or profile.provenance.created).partition("T")[0]


def facts(result: Result) -> tuple[tuple[str, str], ...]:
    """Return what the line of a result rests on, as pairs of name and text."""
    return (
        ("frames", frame_words(result)),
        ("straight line", linear_words(result)),
        ("black from", result.black_source),
        ("shutter times", time_words(result)),
        ("aim", aim_words(result.aim_stops)),
        ("footroom", footroom_words(result)),
        ("apertures", apertures(result)),
    )


def apertures(result: Result) -> str:
    """Return the apertures that the result holds for."""
    low, high = result.aperture_band
    if low <= 0.0:
        return "not known"
    if low == high:
        return format_f_number(low)
    return f"{format_f_number(low)} to {format_f_number(high)}"


def patch_words(patch: str) -> str:
    """Return where the patch lies."""
    numbers = patch.split()
    if len(numbers) == 4 and all(number.isdigit() for number in numbers):
        x, y, width, height = numbers
        return f"{width} × {height} px, its upper left corner {x} px from the left and {y} px down"
    return patch or "not kept"


def three_zeros(profile: ProfileData) -> str:
    """Return why a metered grey lies at different places below clip, with nothing wrong.

    ISO 12232:2006 10/S and 78/S; spot H = qK/S; incident H = q R C/(pi S), R = 18 %
    (ISO 2720:1974 constants as the profile's meter has them).
    """
    own = profile.meter
    meter = Meter(k_cd_m2=own.k_cd_m2, c_flat_lx=own.c_flat_lx, c_dome_lx=own.c_dome_lx)
    spot, flat = (
        float(stops_below_saturation(metered_focal_plane_exposure_lx_s(mode, meter, 1.0)))
        for mode in ("spot", "incident-flat")
    )
    mean = standards.AIM_ISO12232_STOPS
    gap = spot - mean
    verb = "more" if gap > 0.0 else "less"
    return (
        "Where should a metered grey lie on a body whose saturation speed equals its ISO label? "
        "There are three answers that must not be mixed. "
        f"ISO 12232's own mean exposure, 10/S, lies {mean:.2f} stops below clip. "
        f"A spot reading with K {own.k_cd_m2:g} cd/m² lies {spot:.2f} below, whatever the card. "
        f"An 18 % card under an incident reading, flat receptor, with C {own.c_flat_lx:g} lx lies "
        f"{flat:.2f} below. So this meter in spot mode asks for an offset of {gap:+.2f} EV "
        f"(give {abs(gap):.1f} stop {verb}) against the first answer even where nothing is wrong. "
        "Offsets here are against the aim that each result names."
    )


def reading_notes() -> tuple[str, ...]:
    """Return how signs, intervals and bounds are meant."""
    return (
        "± is half a 95 % interval, and ranges are 95 % intervals. Stops and EV are the same "
        "thing; more means more exposure.",
        "A headroom that is a lower bound, because no frame reached clip, makes the offset a "
        "lower bound and the EI an upper one; both say so.",
        "A result holds for its ISO label, meter mode, light and apertures. What was not measured "
        "is not here: measure it before you rely on it.",
        "EI is the ISO number that puts the offset into the meter. The saturation speed is another "
        "number: ISO 12232's S_sat = 78/H_sat. It is absolute, so it rests on the meter's K or C, "
        "on what the lens passes (90 % assumed) and on the patch's place in the frame (q = 0.65 "
        "assumed) besides, and has a budget of its own.",
    )
