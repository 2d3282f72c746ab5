"""APEX values with the zero of their scale named: Exif's or ASA's.

Two zeros are in use, both from memory. Exif: S_v = log2(S/3.125), B_v = 0 at 1 foot-lambert,
S_v(100) = 5, which implies K = 10.707 cd/m2. ASA 1960-61: S_v = log2(N S) with N = 2^(-7/4),
S_v(100) = 4.894, K = 11.4. The two S_v differ by 0.106 EV; Exif's implied K is 0.223 EV from 12.5,
so a BrightnessValue gives no luminance to better than that unless the maker's zero is known.
"""

from __future__ import annotations

from typing import Final, Literal

from profiler import standards
from profiler.exposure.quantities import Quantity, exp2, log2, positive

Zero = Literal["exif", "asa"]

_SPEED_N: Final[dict[Zero, float]] = {
    "exif": standards.EXIF_SPEED_N.value,
    "asa": standards.ASA_SPEED_N.value,
}
_BRIGHTNESS_ZERO_CD_M2: Final[dict[Zero, float]] = {
    "exif": standards.CD_M2_PER_FL.value,
    "asa": standards.ASA_BRIGHTNESS_ZERO_CD_M2.value,
}


def aperture_value(f_number: Quantity) -> Quantity:
    """A_v of an f-number: 2 log2 N.

    >>> aperture_value(8.0)
    6.0
    """
    return 2.0 * log2(positive(f_number, "f-number"))


def f_number_from_aperture_value(a_v: Quantity) -> Quantity:
    """f-number of an A_v: 2^(A_v/2).

    >>> f_number_from_aperture_value(6.0)
    8.0
    """
    return exp2(a_v / 2.0)


def time_value(time_s: Quantity) -> Quantity:
    """T_v of a time: -log2 t.

    >>> time_value(1 / 64)
    6.0
    """
    return 0.0 - log2(positive(time_s, "time", "s"))


def time_s_from_time_value(t_v: Quantity) -> Quantity:
    """Time in s of a T_v: 2^-T_v.

    >>> time_s_from_time_value(6.0)
    0.015625
    """
    return exp2(0.0 - t_v)


def speed_value(iso: Quantity, zero: Zero = "exif") -> Quantity:
    """S_v of an ISO speed: log2(N S).

    >>> speed_value(100.0), round(speed_value(100.0, "asa"), 4)
    (5.0, 4.8939)
    """
    return log2(positive(iso, "ISO") * _SPEED_N[zero])


def iso_from_speed_value(s_v: Quantity, zero: Zero = "exif") -> Quantity:
    """ISO speed of an S_v: 2^S_v/N.

    >>> iso_from_speed_value(5.0)
    100.0
    """
    return exp2(s_v) / _SPEED_N[zero]


def luminance_from_brightness_value(b_v: Quantity, zero: Zero = "exif") -> Quantity:
    """Luminance in cd/m2 of a B_v: N K 2^B_v; good to 0.2 EV at best where the zero is a guess.

    >>> round(luminance_from_brightness_value(5.0), 3)
    109.64
    """
    return exp2(b_v) * _BRIGHTNESS_ZERO_CD_M2[zero]


def implied_k_cd_m2(zero: Zero = "exif") -> float:
    """Meter constant K in cd/m2 that makes A_v + T_v = B_v + S_v hold: (N K)/N.

    >>> round(implied_k_cd_m2(), 4), round(implied_k_cd_m2("asa"), 1)
    (10.7071, 11.4)
    """
    return _BRIGHTNESS_ZERO_CD_M2[zero] / _SPEED_N[zero]


def ev100_from_brightness_value(b_v: Quantity, zero: Zero = "exif") -> Quantity:
    """EV at ISO 100 of a B_v: B_v + S_v(100); Exif: B_v + 5.

    >>> ev100_from_brightness_value(5.0)
    10.0
    """
    return b_v + speed_value(100.0, zero)
