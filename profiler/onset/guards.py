"""What to look out for at a camera setting: sync, mains, iris, what the profile can't tell."""

from __future__ import annotations

import math
from dataclasses import dataclass

from profiler import standards
from profiler.exposure.flicker import flicker_ev, flicker_free_angles_deg
from profiler.exposure.marks import TIME_SCALE
from profiler.exposure.modes import is_flash
from profiler.exposure.stops import StopStep, exact_time_s
from profiler.exposure.wording import format_f_number, format_time
from profiler.onset.aperture import iris_cancels, measured_apertures
from profiler.onset.between import is_between
from profiler.onset.camera import CameraSetting
from profiler.onset.on_body import OnBody
from profiler.results import Result

PULSING = ("tungsten", "led", "fluorescent", "other")
"""Lights that may follow the mains."""


@dataclass(frozen=True, kw_only=True)
class Guard:
    """One thing to look out for; warns where the setting should be changed."""

    name: str
    warns: bool
    text: str


def look(
    result: Result,
    setting: CameraSetting,
    ask: OnBody,
    *,
    left_ev: float = 0.0,
) -> tuple[Guard, ...]:
    """Return everything to look out for at a setting; the result is through the lens asked for."""
    found = [*unmeasured(result)]
    shutter = setting.shutter
    flash = is_flash(result.mode)
    sync_s = ask.sync_time_s()
    if flash and shutter is not None and sync_s > 0.0:
        found.append(_sync(shutter.marked_s, sync_s))
    if not flash and shutter is not None and ask.mains_hz > 0.0:
        found.append(_flicker(setting, result, ask.marks, ask.mains_hz))
    if result.clip_headroom_ev.lower_bound:
        text = "clip was not seen when the profile was made: the distances to clip are bounds"
        found.append(Guard(name="clip-not-seen", warns=True, text=text))
    elif abs(left_ev) > 0.5:
        found.append(_far(left_ev))
    if setting.aperture.word == "f" and iris_cancels(result, setting.aperture.marked):
        which = "the aperture of the calibration"
        if ask.lens is not None:
            which = "an aperture that this lens was measured at"
        text = (
            f"{setting.aperture.label} is {which}, where the iris's own error cancels (left out of "
            "the margin)"
        )
        found.append(Guard(name="same-aperture", warns=False, text=text))
    elif setting.aperture.word == "f":
        measured = ", ".join(format_f_number(n) for n in measured_apertures(result))
        text = (
            f"measured at {measured}: at {setting.aperture.label} the iris may stand "
            f"{standards.APERTURE_MARK_EV:g} EV beside its mark (counted in the margin)"
        )
        found.append(Guard(name="other-aperture", warns=False, text=text))
    if shutter is not None and shutter.is_counted:
        found.append(_count(shutter.marked_s))
    if shutter is not None and shutter.marked_s >= standards.LONG_TIME_S:
        text = "from 1 s on some bodies take a dark frame off: switch that off, or allow for it"
        found.append(Guard(name="long-time", warns=False, text=text))
    return tuple(found)


def _count(seconds: float) -> Guard:
    minutes, rest = divmod(round(seconds), 60)
    spelled = f" ({minutes} min {rest} s)" if minutes else ""
    text = (
        f"no dial goes beyond 30 s: set bulb and count {seconds:g} s{spelled}; one second beside "
        f"it is {math.log2(1.0 + 1.0 / seconds):.2f} stop, and the light must stay as it was read"
    )
    return Guard(name="bulb", warns=False, text=text)


def unmeasured(result: Result) -> tuple[Guard, ...]:
    """Return that an ISO label lies between measured ones, and what its margin holds."""
    row = is_between(result)
    if row is None:
        return ()
    text = f"ISO {result.iso} was not measured but drawn from its neighbours: {row.basis}"
    half = f"±{row.half_width_ev or 2.0 * row.u_ev:.2f} EV"
    return (Guard(name="between-labels", warns=True, text=f"{text} ({half}, in the margin)"),)


def flicker_safe(seconds: float, mains_hz: float) -> bool:
    """Return whether a time averages a fully pulsing light to within FLICKER_SAFE_EV.

    >>> flicker_safe(1 / 50.797, 50.0), flicker_safe(1 / 64, 60.0)
    (True, False)
    """
    return flicker_ev(seconds, mains_hz) < standards.FLICKER_SAFE_EV


def safe_times(mains_hz: float, rule: str, marks: StopStep = "third") -> tuple[float, ...]:
    """Return the marked times in s that are free of flicker, shortest first."""
    found = []
    for (marked, *_), _exact in TIME_SCALE[marks]:
        seconds = exact_time_s(marked, marks) if rule == "exact" else marked
        if flicker_safe(seconds, mains_hz):
            found.append(marked)
    return tuple(sorted(found))


def _sync(marked_s: float, sync_s: float) -> Guard:
    if marked_s < sync_s * (1.0 - standards.MARK_TOLERANCE):
        text = (
            f"{format_time(marked_s)} is shorter than the sync time {format_time(sync_s)}: "
            "part of the frame gets no flash"
        )
        return Guard(name="sync", warns=True, text=text)
    text = f"{format_time(marked_s)} is no shorter than the sync time {format_time(sync_s)}"
    return Guard(name="sync", warns=False, text=text)


def _flicker(setting: CameraSetting, result: Result, marks: StopStep, mains_hz: float) -> Guard:
    shutter = setting.shutter
    if shutter is None:
        raise ValueError("a setting without a shutter has no flicker")
    rule = result.time_rule.used
    seconds = shutter.seconds(rule, marks)
    size = flicker_ev(seconds, mains_hz)
    real = f"{shutter.label}, run as 1/{1.0 / seconds:.4g} s," if seconds < 0.5 else shutter.label
    if flicker_safe(seconds, mains_hz):
        text = f"{real} averages {mains_hz:g} Hz mains to {size:.2f} EV at most"
        return Guard(name="mains", warns=False, text=text)
    if shutter.fps is not None:
        angles = flicker_free_angles_deg(shutter.fps, mains_hz)
        better = ", ".join(f"{angle:.4g}" for angle in angles) + " deg" if angles else "none here"
    else:
        times = sorted(safe_times(mains_hz, rule, marks), key=lambda s: abs(math.log2(s / seconds)))
        better = ", ".join(format_time(s) for s in sorted(times[:2]))
    text = (
        f"{real} lets {mains_hz:g} Hz mains through: up to {size:.2f} EV from frame to frame "
        f"under a light that pulses fully; free of it: {better}"
    )
    return Guard(name="mains", warns=True, text=text)


def _far(left_ev: float) -> Guard:
    if left_ev > 0.0:
        text = f"{left_ev:.1f} stops too little light: open up, add light, or raise the ISO label"
    else:
        text = f"{-left_ev:.1f} stops too much light: close down, use an ND filter, or less light"
    return Guard(name="off-the-aim", warns=True, text=text)
