"""At which apertures a result holds, and what a setting gives as the profile counts it."""

from __future__ import annotations

import math
from typing import Final

from profiler import standards
from profiler.errors import ExposureError, ProfileError
from profiler.exposure.filters import t_stop
from profiler.exposure.quantities import fraction
from profiler.exposure.stops import SAME_MARK, StopStep, exact_f_number
from profiler.exposure.wording import format_f_number
from profiler.onset.camera import Aperture, CameraSetting
from profiler.results import Result

WIDE: Final = "wider than f/2.8"
MIDDLE: Final = "f/2.8 up to f/4"
NARROW: Final = "f/4 and smaller"
_MIDDLE_F_NUMBER: Final = math.sqrt(8.0)


def band_of(aperture: float) -> str:
    """Return the band of a marked aperture.

    Raw values multiplied by the body: up to 0.38 EV at f/1.4, none from about f/4 (issue threads
    of raw decoders).

    >>> band_of(1.4), band_of(2.8), band_of(4), band_of(11)
    ('wider than f/2.8', 'f/2.8 up to f/4', 'f/4 and smaller', 'f/4 and smaller')
    """
    exact = exact_f_number(aperture) * (1.0 + SAME_MARK)
    if exact >= standards.NARROW_F_NUMBER:
        return NARROW
    return MIDDLE if exact >= _MIDDLE_F_NUMBER else WIDE


def measured_apertures(result: Result) -> tuple[float, ...]:
    """Return the marked apertures that the frames were taken at, widest first."""
    found = {frame.aperture for frame in result.frames if frame.aperture}
    return tuple(sorted(found)) or tuple(sorted(set(result.aperture_band)))


def usual_aperture(result: Result) -> Aperture:
    """Return the aperture that most frames of a result were measured at."""
    seen = [frame.aperture for frame in result.frames if frame.aperture]
    marked = max(measured_apertures(result), key=seen.count)
    return Aperture(marked=marked, word="T" if result.measured_by_t_stop else "f")


def same_mark(one: float, other: float) -> bool:
    """Return whether two marked apertures are one position of the ring."""
    return abs(math.log(exact_f_number(one) / exact_f_number(other))) < SAME_MARK


def accepts(result: Result, aperture: float) -> bool:
    """Return whether a result holds at an aperture.

    From f/4 down the band counts; wider, where bodies differ from stop to stop, only what was
    measured.
    """
    measured = measured_apertures(result)
    if any(same_mark(aperture, each) for each in measured):
        return True
    return band_of(aperture) == NARROW and any(band_of(each) == NARROW for each in measured)


def band_words(result: Result) -> str:
    """Return the apertures that a result holds at, in words: `f/4 and smaller`, or `f/1.4`."""
    measured = measured_apertures(result)
    wide = [format_f_number(each) for each in measured if band_of(each) != NARROW]
    return ", ".join(wide + ([NARROW] if any(band_of(each) == NARROW for each in measured) else []))


def check_aperture(result: Result, aperture: float, where: str) -> None:
    """Raise ProfileError where a result doesn't hold at an aperture."""
    if accepts(result, aperture):
        return
    raise ProfileError(
        f"the aperture {format_f_number(aperture)} was not measured "
        f"(ISO {result.iso}, {result.mode} holds {band_words(result)})",
        where,
        "Use one of these, or calibrate this aperture in a series of its own",
    )


def iris_cancels(result: Result, aperture: float | None) -> bool:
    """Return whether the iris stands where it stood for every measured frame.

    What it lets in beside its mark is then inside the measured levels.
    """
    measured = measured_apertures(result)
    return aperture is not None and all(same_mark(aperture, each) for each in measured)


def as_measured(
    aperture: Aperture, result: Result, transmittance: float | None, where: str = "aperture"
) -> Aperture:
    """Return the aperture in the kind that a result was measured by: T = N/sqrt(tau).

    A profile measured by f-number holds its lens's loss already, so a T-stop is turned back into
    that lens's f-number; without the transmittance that can't be done.
    """
    wanted = "T" if result.measured_by_t_stop else "f"
    if aperture.word == wanted:
        return aperture
    if transmittance is None:
        kind = "T-stops" if wanted == "T" else "f-numbers, its lens's loss being inside"
        raise ExposureError(
            f"the profile was measured by {kind}",
            f"{where} {aperture.label}",
            f"Give the {'T-stop' if wanted == 'T' else 'f-number'}, or the part of the light "
            "that the measured lens lets through ({transmission} 0.9)",
            "transmission",
        )
    loss = t_stop(1.0, fraction(transmittance, "transmission"))
    exact = aperture.exact() * (loss if wanted == "T" else 1.0 / loss)
    return Aperture(marked=exact, word=wanted, computed=True)


def given_ev(
    setting: CameraSetting, result: Result, *, lost_ev: float, flash: bool, series: StopStep
) -> float:
    """Return EV that a setting gives, losses included: 2 log2 N - log2 t + lost; flash without t.

    Marks count as the profile's time rule says; apertures as exact members.
    """
    ev = 2.0 * math.log2(setting.aperture.exact(series)) + lost_ev
    if flash:
        return ev
    if setting.shutter is None:
        raise ExposureError(
            "the time is missing", f"setting {setting.label}", "Write for example f/8 1/60"
        )
    return ev - math.log2(setting.shutter.seconds(result.time_rule.used, series))
