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


def angle_from_time_deg(time_s: float, fps: float) -> float:
    """Shutter angle in degrees of a time: 360 fps t; a time longer than a frame is refused.

    >>> round(angle_from_time_deg(1 / 50, 24.0), 6)
    172.8
    """
    angle_deg = 360.0 * positive(fps, "frame rate", "fps") * positive(time_s, "time", "s")
    if angle_deg > 360.0 * (1.0 + 1e-9):
        raise ExposureError(
            f"{time_s:g} s is longer than a frame at {fps:g} fps",
            "time",
            f"Give a time up to 1/{fps:g} s",
        )
    return min(angle_deg, 360.0)


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


def flicker_free_times_s(mains_hz: float, count: int = 4) -> tuple[float, ...]:
    """The shortest times in s that hold whole pulses: k/(2 mains), k = 1, 2, ... count.

    True times: a body that runs "1/60" as 1/64 s is not free of flicker at 60 Hz.

    >>> [round(1 / time_s, 3) for time_s in flicker_free_times_s(50.0)]
    [100.0, 50.0, 33.333, 25.0]
    """
    if count < 1:
        raise ValueError(f"count must be 1 or more, not {count}")
    return tuple(k / pulses_per_s(mains_hz) for k in range(1, count + 1))


def nearest_flicker_free_time_s(time_s: float, mains_hz: float) -> float:
    """The time in s nearest to a wanted one that holds whole pulses, at least one.

    >>> round(1 / nearest_flicker_free_time_s(1 / 60, 50.0), 6)
    50.0
    """
    pulses = pulses_per_s(mains_hz)
    return max(1, round(positive(time_s, "time", "s") * pulses)) / pulses


def flicker_free_angles_deg(fps: float, mains_hz: float) -> tuple[float, ...]:
    """Shutter angles in degrees that hold whole pulses: 360 k fps/(2 mains), up to 360.

    >>> flicker_free_angles_deg(25.0, 60.0)
    (75.0, 150.0, 225.0, 300.0)
    """
    per_frame = pulses_per_s(mains_hz) / positive(fps, "frame rate", "fps")
    whole = math.floor(per_frame * (1.0 + 1e-9))
    return tuple(min(360.0 * k / per_frame, 360.0) for k in range(1, whole + 1))
