"""Focal-plane exposure, what a meter asks of it, how far it lies below saturation."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, overload

from profiler import standards
from profiler.errors import ExposureError
from profiler.exposure.modes import constant_for_mode, receptor
from profiler.exposure.quantities import Quantity, exp2, fraction, log2, positive

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from profiler.records import Meter

    Array = NDArray[np.float64]

_Q: Final = standards.Q_FACTOR.value
_GREY: Final = standards.GREY_REFLECTANCE.value
_SATURATION: Final = standards.SATURATION_SPEED_LX_S.value
_MEAN: Final = standards.EXPOSURE_INDEX_LX_S.value


def q_factor(
    transmittance: float = standards.LENS_TRANSMITTANCE.value,
    vignetting: float = standards.VIGNETTING_FACTOR.value,
    off_axis_deg: float = standards.OFF_AXIS_DEG.value,
) -> float:
    """Lens factor q = (pi/4) T v cos^4(angle), 1 (ISO 12232:2006 via colour-hdri).

    The standard's own 0.90, 0.98 and 10 deg give 0.651575; it rounds to 0.65, which costs
    0.0035 EV. The rounded value is the default everywhere else.

    >>> round(q_factor(), 6)
    0.651575
    """
    return math.pi / 4.0 * transmittance * vignetting * math.cos(math.radians(off_axis_deg)) ** 4


@overload
def focal_plane_exposure_lx_s(
    luminance_cd_m2: float,
    time_s: float,
    f_number: float,
    q: float = ...,
    *,
    focal_length_m: float | None = ...,
    image_distance_m: float | None = ...,
    flare_lx_s: float = ...,
) -> float: ...
@overload
def focal_plane_exposure_lx_s(
    luminance_cd_m2: Array,
    time_s: float | Array,
    f_number: float | Array,
    q: float = ...,
    *,
    focal_length_m: float | None = ...,
    image_distance_m: float | None = ...,
    flare_lx_s: float = ...,
) -> Array: ...
def focal_plane_exposure_lx_s(
    luminance_cd_m2: float | Array,
    time_s: float | Array,
    f_number: float | Array,
    q: float = _Q,
    *,
    focal_length_m: float | None = None,
    image_distance_m: float | None = None,
    flare_lx_s: float = 0.0,
) -> float | Array:
    """Focal-plane exposure in lx s: H = q L t F^2/(N^2 i^2) + H_f (ISO 12232:2006, colour-hdri).

    Focal length F and image distance i are given together; without them the lens is focused at
    infinity, F = i.

    >>> round(focal_plane_exposure_lx_s(4000.0, 1 / 250, 8.0, q_factor()), 10)
    0.1628937086
    """
    if (focal_length_m is None) is not (image_distance_m is None):
        raise TypeError("focal_length_m and image_distance_m go together")
    shrink = 1.0
    if focal_length_m is not None and image_distance_m is not None:
        f_m = positive(focal_length_m, "focal length", "m")
        shrink = (f_m / positive(image_distance_m, "image distance", "m")) ** 2
    luminance = positive(luminance_cd_m2, "luminance", "cd/m2")
    exposure = q * shrink * luminance * positive(time_s, "time", "s")
    return exposure / positive(f_number, "f-number") ** 2 + flare_lx_s


def image_distance_m(focal_length_m: float, object_distance_m: float) -> float:
    """Image distance in m of a thin lens: 1/i = 1/F - 1/o.

    >>> round(image_distance_m(0.05, 5.0), 6)
    0.050505
    """
    f_m = positive(focal_length_m, "focal length", "m")
    if not positive(object_distance_m, "object distance", "m") > f_m:
        raise ExposureError(
            f"{object_distance_m:g} m is not beyond the focal length of {f_m:g} m",
            "object distance",
            "Give the distance from the lens in m, the focal length in m",
        )
    return 1.0 / (1.0 / f_m - 1.0 / object_distance_m)


def saturation_speed(h_sat_lx_s: Quantity) -> Quantity:
    """Saturation speed S_sat = 78/H_sat (ISO 12232:2006 via colour-hdri).

    >>> round(saturation_speed(0.78), 9)
    100.0
    """
    return _SATURATION / positive(h_sat_lx_s, "saturation exposure", "lx s")


def saturation_exposure_lx_s(speed: Quantity) -> Quantity:
    """Focal-plane exposure in lx s that just saturates: H_sat = 78/S_sat.

    >>> saturation_exposure_lx_s(100.0)
    0.78
    """
    return _SATURATION / positive(speed, "saturation speed")


def exposure_index(h_lx_s: Quantity) -> Quantity:
    """Exposure index I_EI = 10/H_a of a mean exposure (ISO 12232:2006 via colour-hdri).

    >>> exposure_index(0.1)
    100.0
    """
    return _MEAN / positive(h_lx_s, "focal-plane exposure", "lx s")


def metered_focal_plane_exposure_lx_s(
    mode: str, meter: Meter, iso: float, reflectance: float = _GREY, q: float = _Q
) -> float:
    """Focal-plane exposure in lx s that a meter asks for on a matt card of that reflectance.

    Spot modes: H = q K/S, whatever the card. Incident modes: H = q R C/(pi S). Flash modes alike,
    with the time multiplied out (derived from ISO 2720:1974 with ISO 12232:2006). Neither is the
    10/S of ISO 12232 itself: K = 12.5 puts grey 0.300 EV under that mean.
    """
    constant = constant_for_mode(mode, meter)
    if receptor(mode) != "spot":
        constant *= fraction(reflectance, "reflectance") / math.pi
    return q * constant / positive(iso, "ISO")


def stops_below_saturation(h_times_s: Quantity) -> Quantity:
    """Stops from a mean exposure H S (lx s times ISO) up to saturation: log2(78/(H S)).

    10 (the standard's mean) gives 2.963; 18 % under a white with half a stop to spare,
    log2(sqrt(2)/0.18), would give 2.974: 78 is 78.57 cut short (ISO 12232:2006 via colour-hdri).

    >>> round(stops_below_saturation(10.0), 6)
    2.963474
    """
    return log2(_SATURATION / positive(h_times_s, "exposure times ISO", "lx s"))


def saturating_luminance_cd_m2(ev100: Quantity, q: float = _Q) -> Quantity:
    """Luminance in cd/m2 that saturates a camera with S_sat 100: 0.78 x 2^EV100/q.

    1.2 x 2^EV100 with q = 0.65 (Lagarde and de Rousiers 2014 via colour-hdri).

    >>> round(saturating_luminance_cd_m2(0.0), 9)
    1.2
    """
    return exp2(ev100) * (_SATURATION / 100.0 / positive(q, "q"))
