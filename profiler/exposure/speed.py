"""How ISO 12232 reports a camera's speed."""

from __future__ import annotations

from dataclasses import dataclass

from profiler import standards
from profiler.exposure.marks import ISO_SCALE
from profiler.exposure.quantities import Quantity, positive

_SRGB_KNEE_LINEAR = 0.0031308
_SRGB_KNEE_CODE = 0.04045


def noise_speed(h_lx_s: Quantity) -> Quantity:
    """Noise speed S = 10/H of the exposure with signal-to-noise ratio 40 or 10 (from memory).

    The standard weighs luminance and colour noise of an output picture; a ratio taken from one raw
    channel gives a figure that is like it, not the standard's.

    >>> noise_speed(0.1)
    100.0
    """
    return standards.NOISE_SPEED_LX_S.value / positive(h_lx_s, "focal-plane exposure", "lx s")


@dataclass(frozen=True, kw_only=True)
class ReportedSpeed:
    """The ISO speed to report, with the lowest and the highest of its latitude."""

    iso: float
    latitude_low: float
    latitude_high: float


def reported_speed(saturation: float, noise_40: float, noise_10: float) -> ReportedSpeed:
    """Speed and latitude to report, as marks (ISO 12232, from memory of an encyclopaedia text).

    S_noise40 above S_sat is rounded down to a mark, else S_sat is rounded up; latitude from S_sat
    rounded up to S_noise10 rounded down. The standard's own table of ranges was not at hand.

    >>> reported_speed(saturation=49, noise_40=107, noise_10=1688)
    ReportedSpeed(iso=100.0, latitude_low=50.0, latitude_high=1600.0)
    """
    low = _mark_up(positive(float(saturation), "saturation speed"))
    best = _mark_down(positive(float(noise_40), "noise speed")) if noise_40 > saturation else low
    high = _mark_down(positive(float(noise_10), "noise speed"))
    return ReportedSpeed(iso=best, latitude_low=low, latitude_high=high)


def srgb_code(linear: float) -> float:
    """sRGB code, 0 to 1, of linear light (IEC 61966-2-1 via colour).

    Standard output sensitivity asks for 118 of 255, which is 18 % grey.

    >>> round(255 * srgb_code(0.18), 2)
    117.65
    """
    if linear <= _SRGB_KNEE_LINEAR:
        return float(12.92 * linear)
    return float(1.055 * linear ** (1.0 / 2.4) - 0.055)


def linear_from_srgb_code(code: float) -> float:
    """Linear light, 0 to 1, of an sRGB code (IEC 61966-2-1 via colour).

    >>> round(linear_from_srgb_code(118 / 255), 6)
    0.181164
    """
    if code <= _SRGB_KNEE_CODE:
        return float(code / 12.92)
    return float(((code + 0.055) / 1.055) ** 2.4)


def _marks() -> list[float]:
    return [marked[0] for marked, _ in ISO_SCALE["third"]]


def _mark_down(speed: float) -> float:
    return max((mark for mark in _marks() if mark <= speed * (1.0 + 1e-9)), default=_marks()[0])


def _mark_up(speed: float) -> float:
    return min((mark for mark in _marks() if mark >= speed * (1.0 - 1e-9)), default=_marks()[-1])
