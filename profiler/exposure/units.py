"""Conversions between units of light, density and speed."""

from __future__ import annotations

import math

from profiler import standards
from profiler.exposure.quantities import Quantity, fraction, positive

_LX_PER_FC = standards.LX_PER_FC.value
_CD_M2_PER_FL = standards.CD_M2_PER_FL.value
_CD_M2_PER_ASB = standards.CD_M2_PER_ASB.value


def lx_from_fc(illuminance_fc: Quantity) -> Quantity:
    """Illuminance in lx of foot-candles: 1 fc = 1/0.3048^2 lx.

    >>> round(lx_from_fc(1.0), 6)
    10.76391
    """
    return illuminance_fc * _LX_PER_FC


def fc_from_lx(illuminance_lx: Quantity) -> Quantity:
    """Illuminance in foot-candles of lx."""
    return illuminance_lx / _LX_PER_FC


def cd_m2_from_fl(luminance_fl: Quantity) -> Quantity:
    """Luminance in cd/m2 of foot-lamberts: 1 fL = 1/(pi 0.3048^2) cd/m2.

    Older pages have 3.425 for 3.426 (rounding).

    >>> round(cd_m2_from_fl(1.0), 6)
    3.426259
    """
    return luminance_fl * _CD_M2_PER_FL


def fl_from_cd_m2(luminance_cd_m2: Quantity) -> Quantity:
    """Luminance in foot-lamberts of cd/m2."""
    return luminance_cd_m2 / _CD_M2_PER_FL


def cd_ft2_from_cd_m2(luminance_cd_m2: Quantity) -> Quantity:
    """Luminance in candelas per square foot of cd/m2."""
    return luminance_cd_m2 / _LX_PER_FC


def asb_from_cd_m2(luminance_cd_m2: Quantity) -> Quantity:
    """Luminance in apostilbs of cd/m2."""
    return luminance_cd_m2 / _CD_M2_PER_ASB


def density_from_reflectance(reflectance: float) -> float:
    """Density of a reflectance or transmittance: D = -log10 R.

    >>> round(density_from_reflectance(0.18), 4)
    0.7447
    """
    return 0.0 - math.log10(fraction(reflectance, "reflectance"))


def degrees_from_iso(iso: float) -> int:
    """Speed in degrees of an arithmetic speed: 1 + 10 log10 S, rounded (from memory).

    >>> degrees_from_iso(100), degrees_from_iso(64)
    (21, 19)
    """
    return round(1.0 + 10.0 * math.log10(positive(float(iso), "ISO")))
