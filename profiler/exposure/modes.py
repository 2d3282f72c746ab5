"""Which of the meter's constants a mode uses."""

from __future__ import annotations

from profiler.records import MODES, Meter


def is_flash(mode: str) -> bool:
    """Whether a mode reads flash, where the time does not count; ValueError for no mode.

    >>> is_flash("flash-dome"), is_flash("spot")
    (True, False)
    """
    return _known(mode).startswith("flash-")


def receptor(mode: str) -> str:
    """`spot`, `flat` or `dome`, the receptor that a mode uses; ValueError for no mode.

    >>> receptor("flash-dome")
    'dome'
    """
    return _known(mode).rpartition("-")[2]


def constant_for_mode(mode: str, meter: Meter) -> float:
    """The meter's constant that a mode uses: K in cd/m2 for spot, C in lx by receptor.

    Flash modes use the same constants with the time multiplied out (from memory).

    >>> constant_for_mode("incident-dome", Meter())
    340.0
    """
    kind = receptor(mode)
    constants = {"spot": meter.k_cd_m2, "flat": meter.c_flat_lx, "dome": meter.c_dome_lx}
    return constants[kind]


def _known(mode: str) -> str:
    if mode not in MODES:
        raise ValueError(f"mode must be one of {', '.join(MODES)}, not {mode!r}")
    return mode
