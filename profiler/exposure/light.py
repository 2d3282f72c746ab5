"""Relations between settings, EV, luminance, illuminance and the exposure of the focal plane.

Every function takes plain numbers or arrays that broadcast; plain numbers give plain numbers.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, overload

from profiler import standards
from profiler.exposure.modes import constant_for_mode, receptor
from profiler.exposure.quantities import Quantity, exp2, fraction, log2, positive

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from profiler.records import Meter

    Array = NDArray[np.float64]

_K: Final = standards.METER_K.value
_C: Final = standards.METER_C_FLAT.value
_GREY: Final = standards.GREY_REFLECTANCE.value
_Q: Final = standards.Q_FACTOR.value
_SATURATION: Final = standards.SATURATION_SPEED_LX_S.value


# --- settings and EV ---------------------------------------------------------------------


@overload
def ev_from_settings(f_number: float, time_s: float) -> float: ...
@overload
def ev_from_settings(f_number: Array, time_s: float | Array) -> Array: ...
@overload
def ev_from_settings(f_number: float, time_s: Array) -> Array: ...
def ev_from_settings(f_number: float | Array, time_s: float | Array) -> float | Array:
    """EV of the settings alone: log2(N^2/t), whatever the ISO (ISO 2720:1974 via colour-hdri).

    >>> ev_from_settings(8.0, 1 / 128)
    13.0
    """
    return 2.0 * log2(positive(f_number, "f-number")) - log2(positive(time_s, "time", "s"))


def time_from_ev(ev: Quantity, f_number: float) -> Quantity:
    """Time in s that makes the EV at an f-number: t = N^2/2^EV.

    >>> time_from_ev(13.0, 8.0) == 1 / 128
    True
    """
    return positive(f_number, "f-number") ** 2 / exp2(ev)


def ev_at_iso(ev100: Quantity, iso: float) -> Quantity:
    """EV to set at an ISO: EV100 + log2(S/100).

    >>> ev_at_iso(10.0, 400.0)
    12.0
    """
    return ev100 + log2(positive(iso, "ISO") / 100.0)


def ev100_from_ev_at_iso(ev: Quantity, iso: float) -> Quantity:
    """EV at ISO 100 of an EV that is meant for another ISO: EV - log2(S/100).

    >>> ev100_from_ev_at_iso(12.0, 400.0)
    10.0
    """
    return ev - log2(positive(iso, "ISO") / 100.0)


# --- meters: ISO 2720 ----------------------------------------------------------------------


def ev100_from_luminance(luminance_cd_m2: Quantity, k_cd_m2: float = _K) -> Quantity:
    """EV at ISO 100 of a reflected reading: log2(100 L/K) (ISO 2720:1974 via colour-hdri).

    K = 12.5 cd/m2 is the default; the other trade value, 14, reads 0.163 EV less and lies outside
    the standard's own range of 10.6 to 13.4.

    >>> ev100_from_luminance(4096.0)
    15.0
    """
    return log2(positive(luminance_cd_m2, "luminance", "cd/m2") * 100.0 / _constant(k_cd_m2, "K"))


def luminance_from_ev100(ev100: Quantity, k_cd_m2: float = _K) -> Quantity:
    """Luminance in cd/m2 of an EV at ISO 100: L = 2^EV100 K/100.

    >>> luminance_from_ev100(15.0)
    4096.0
    """
    return exp2(ev100) * (_constant(k_cd_m2, "K") / 100.0)


def ev100_from_illuminance(illuminance_lx: Quantity, c_lx: float = _C) -> Quantity:
    """EV at ISO 100 of an incident reading: log2(100 E/C) (ISO 2720:1974 via colour-hdri).

    C = 250 lx (flat receptor) is the default; 320 to 340 are the trade values for a dome
    (ISO 2720:1974 allows 240 to 400 and 320 to 540).

    >>> ev100_from_illuminance(81920.0)
    15.0
    """
    return log2(positive(illuminance_lx, "illuminance", "lx") * 100.0 / _constant(c_lx, "C"))


def illuminance_from_ev100(ev100: Quantity, c_lx: float = _C) -> Quantity:
    """Illuminance in lx of an EV at ISO 100: E = 2^EV100 C/100.

    >>> illuminance_from_ev100(15.0)
    81920.0
    """
    return exp2(ev100) * (_constant(c_lx, "C") / 100.0)


def reflectance_equivalence(k_cd_m2: float = _K, c_lx: float = _C) -> float:
    """Reflectance at which a spot and an incident reading agree: R = pi K/C.

    L in cd/m2 and E in lx; in foot-lamberts and foot-candles it is K/C (derived from ISO 2720).

    >>> round(reflectance_equivalence(), 5)
    0.15708
    """
    return math.pi * _constant(k_cd_m2, "K") / _constant(c_lx, "C")


def spot_minus_incident_ev(
    k_cd_m2: float = _K, c_lx: float = _C, reflectance: float = _GREY
) -> float:
    """EV by which a spot reading of a matt card exceeds the incident one: log2(R/(pi K/C)).

    >>> round(spot_minus_incident_ev(), 4)
    0.1965
    """
    return math.log2(fraction(reflectance, "reflectance") / reflectance_equivalence(k_cd_m2, c_lx))


def luminance_of_card(illuminance_lx: Quantity, reflectance: float = _GREY) -> Quantity:
    """Luminance in cd/m2 of a perfectly matt card: L = R E/pi.

    >>> round(luminance_of_card(1000.0), 4)
    57.2958
    """
    r = fraction(reflectance, "reflectance")
    return positive(illuminance_lx, "illuminance", "lx") * (r / math.pi)


# --- the focal plane: ISO 12232 -----------------------------------------------------------


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


def _constant(value: float, letter: str) -> float:
    return positive(value, f"meter constant {letter}", "cd/m2" if letter == "K" else "lx")
