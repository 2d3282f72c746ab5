"""Times against mains flicker, shutter angles among them."""

from __future__ import annotations

import math

from profiler.errors import ExposureError
from profiler.exposure.quantities import positive


def time_from_angle_s(angle_deg: float, fps: float) -> float:
    """Time in s of a shutter angle: angle/(360 fps) (common practice).

    >>> time_from_angle_s(180.0, 24.0) == 1 / 48
    True
    """
    if not 0.0 < angle_deg <= 360.0:
        raise ExposureError(
            f"it must be above 0 and at most 360 deg, not {angle_deg:g}",
            "shutter angle",
            "Give the open angle in degrees, such as 180",
        )
    return angle_deg / (360.0 * positive(fps, "frame rate", "fps"))


def ripple_left(time_s: float, mains_hz: float, depth: float = 1.0) -> float:
    """Ripple, 0 to 1, that is left in an exposure: depth |sin(pi f t)/(pi f t)|, f = 2 mains.

    For a light that pulses as a sine of that depth at twice the mains frequency; an exposure over
    the time t is a boxcar (derived).

    >>> round(ripple_left(1 / 200, 50.0), 4)
    0.6366
    """
    if not 0.0 <= depth <= 1.0:
        raise ExposureError(
            f"it must be between 0 and 1, not {depth:g}",
            "flicker depth",
            "Give the ripple of the light as a part of its mean, 1 for full",
        )
    turns = math.pi * pulses_per_s(mains_hz) * positive(time_s, "time", "s")
    return depth * abs(math.sin(turns) / turns)


def flicker_ev(time_s: float, mains_hz: float, depth: float = 1.0) -> float:
    """Peak-to-peak flicker in EV from frame to frame: log2((1 + r)/(1 - r)), r the ripple left.

    >>> round(flicker_ev(1 / 125, 50.0), 4), round(flicker_ev(1 / 50, 50.0), 4)
    (0.6875, 0.0)
    """
    ripple = ripple_left(time_s, mains_hz, depth)
    if ripple >= 1.0:
        return math.inf
    return math.log2((1.0 + ripple) / (1.0 - ripple))


def pulses_per_s(mains_hz: float) -> float:
    """Pulses of light per s: twice the mains frequency.

    >>> pulses_per_s(50.0)
    100.0
    """
    return 2.0 * positive(mains_hz, "mains frequency", "Hz")


def flicker_free_angles_deg(fps: float, mains_hz: float) -> tuple[float, ...]:
    """Shutter angles in degrees that hold whole pulses: 360 k fps/(2 mains), up to 360.

    >>> flicker_free_angles_deg(25.0, 60.0)
    (75.0, 150.0, 225.0, 300.0)
    """
    per_frame = pulses_per_s(mains_hz) / positive(fps, "frame rate", "fps")
    whole = math.floor(per_frame * (1.0 + 1e-9))
    return tuple(min(360.0 * k / per_frame, 360.0) for k in range(1, whole + 1))
