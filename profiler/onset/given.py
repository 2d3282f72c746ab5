"""The exposure that a camera setting gives, as the profile counts it."""

from __future__ import annotations

import math

from profiler.errors import ExposureError
from profiler.exposure.filters import t_stop
from profiler.exposure.quantities import fraction
from profiler.exposure.stops import Series
from profiler.onset import bands
from profiler.onset.camera import Aperture, CameraSetting
from profiler.results import Result


def as_measured(
    aperture: Aperture, result: Result, transmittance: float | None, where: str = "aperture"
) -> Aperture:
    """Return the aperture in the kind that a result was measured by: T = N/sqrt(tau).

    A profile measured by f-number holds its lens's loss already, so a T-stop is turned back into
    that lens's f-number; without the transmittance that can't be done.
    """
    wanted = "T" if bands.measured_by_t_stop(result) else "f"
    if aperture.word == wanted:
        return aperture
    if transmittance is None:
        kind = "T-stops" if wanted == "T" else "f-numbers, its lens's loss being inside"
        raise ExposureError(
            f"the profile was measured by {kind}",
            f"{where} {aperture.label}",
            f"Give the {'T-stop' if wanted == 'T' else 'f-number'}, or the part of the light "
            "that the measured lens lets through (--transmission 0.9)",
        )
    loss = t_stop(1.0, fraction(transmittance, "transmission"))
    exact = aperture.exact() * (loss if wanted == "T" else 1.0 / loss)
    return Aperture(marked=exact, word=wanted, computed=True)


def given_ev(
    setting: CameraSetting, result: Result, *, lost_ev: float, flash: bool, series: Series
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
