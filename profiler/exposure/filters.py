"""Light lost in filters, lenses, bellows, converters."""

from __future__ import annotations

import math
from typing import Final

from profiler.errors import ExposureError
from profiler.exposure.quantities import fraction, not_negative, positive

_LOG10_2: Final = math.log10(2.0)


def stops_from_density(density: float) -> float:
    """Stops that a density takes: D/log10(2) = 3.3219 D (definition).

    D 3.0 is 9.9658 stops; trade tables round it to 10 stops and call a 1024 x filter "1000",
    0.034 EV apart. Factor, density and stops are kept apart here: 1024 is 10 stops, 1000 is 9.9658.

    >>> round(stops_from_density(3.0), 4)
    9.9658
    """
    return not_negative(density, "density") / _LOG10_2


def stops_from_factor(factor: float) -> float:
    """Stops of a filter factor: log2 of it; 1000 is 9.9658 stops, not 10 (that is 1024).

    >>> stops_from_factor(1024.0), stops_from_factor(64.0)
    (10.0, 6.0)
    """
    if not factor >= 1.0:
        raise ExposureError(
            f"a filter factor is 1 or more, not {factor:g}",
            "filter factor",
            "Give how many times more light is needed: 8 for three stops",
        )
    return math.log2(positive(factor, "filter factor"))


def bellows_ev(magnification: float, pupil_magnification: float = 1.0) -> float:
    """Stops lost to extension: 2 log2(1 + m/p); (1 + m)^2 for a symmetric lens.

    Common practice; the pupil magnification p (exit over entrance pupil) from memory.

    >>> bellows_ev(1.0), round(bellows_ev(0.5), 4)
    (2.0, 1.1699)
    """
    m = not_negative(magnification, "magnification")
    return 2.0 * math.log2(1.0 + m / positive(pupil_magnification, "pupil magnification"))


def bellows_ev_from_extension(image_distance_m: float, focal_length_m: float) -> float:
    """Stops lost to extension of a symmetric lens: 2 log2(v/f), from the lens to the film.

    >>> round(2 ** bellows_ev_from_extension(18.0, 12.0), 4)
    2.25
    """
    v = positive(image_distance_m, "image distance", "m")
    f = positive(focal_length_m, "focal length", "m")
    if v < f:
        raise ExposureError(
            f"{v:g} m is less than the focal length of {f:g} m",
            "image distance",
            "Give the distance from the lens to the sensor, both in m",
        )
    return 2.0 * math.log2(v / f)


def magnification_at(focal_length_m: float, object_distance_m: float) -> float:
    """Magnification of a thin lens: m = f/(o - f), o from the lens to the object.

    >>> magnification_at(0.1, 0.2)
    1.0
    """
    f = positive(focal_length_m, "focal length", "m")
    if not positive(object_distance_m, "object distance", "m") > f:
        raise ExposureError(
            f"{object_distance_m:g} m is not beyond the focal length of {f:g} m",
            "object distance",
            "Give the distance from the lens in m, the focal length in m",
        )
    return f / (object_distance_m - f)


def t_stop(f_number: float, transmittance: float) -> float:
    """T-stop of a lens: T = N/sqrt(tau) (common practice; one public page also prints f = T/sqrt).

    >>> round(t_stop(2.8, 0.9), 4)
    2.9515
    """
    tau = fraction(transmittance, "transmittance")
    return positive(f_number, "f-number") / math.sqrt(tau)


def transmittance_from_stops(f_number: float, t_number: float) -> float:
    """Transmittance of a lens from its f-number and its T-stop: (N/T)^2.

    >>> round(transmittance_from_stops(2.0, 2.2360680), 4)
    0.8
    """
    ratio = positive(f_number, "f-number") / positive(t_number, "T-stop")
    if ratio > 1.0:
        raise ExposureError(
            f"T{t_number:g} is faster than f/{f_number:g}",
            "T-stop",
            "Give a T-stop that is not smaller than the f-number",
        )
    return ratio * ratio


def transmission_loss_ev(transmittance: float) -> float:
    """Stops lost in glass: -log2 tau.

    >>> round(transmission_loss_ev(0.75), 3)
    0.415
    """
    return 0.0 - math.log2(fraction(transmittance, "transmittance"))


def teleconverter_ev(factor: float) -> float:
    """Stops lost to a converter that lengthens the focus: 2 log2(factor), its own glass aside.

    >>> teleconverter_ev(2.0), round(teleconverter_ev(1.4), 3)
    (2.0, 0.971)
    """
    return 2.0 * math.log2(positive(factor, "converter factor"))
