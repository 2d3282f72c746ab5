"""Sentences of a report that explain its numbers."""

from __future__ import annotations

from profiler import standards
from profiler.exposure.focal_plane import (
    metered_focal_plane_exposure_lx_s,
    stops_below_saturation,
)
from profiler.records import Meter
from profiler.results import ProfileData


def patch_words(patch: str) -> str:
    """Return where the patch lies."""
    numbers = patch.split()
    if len(numbers) == 4 and all(number.isdigit() for number in numbers):
        x, y, width, height = numbers
        return f"{width} × {height} px, its upper left corner {x} px from the left and {y} px down"
    return patch or "not kept"


def three_zeros(profile: ProfileData) -> str:
    """Return why a metered grey lies at different places below clip, with nothing wrong.

    ISO 12232:2006 10/S and 78/S; spot H = qK/S; incident H = q R C/(pi S), R = 18 %
    (ISO 2720:1974 constants as the profile's meter has them).
    """
    own = profile.meter
    meter = Meter(k_cd_m2=own.k_cd_m2, c_flat_lx=own.c_flat_lx, c_dome_lx=own.c_dome_lx)
    spot, flat = (
        float(stops_below_saturation(metered_focal_plane_exposure_lx_s(mode, meter, 1.0)))
        for mode in ("spot", "incident-flat")
    )
    mean = standards.AIM_ISO12232_STOPS
    gap = spot - mean
    verb = "more" if gap > 0.0 else "less"
    return (
        "Where should a metered grey lie on a body whose saturation speed equals its ISO label? "
        "There are three answers that must not be mixed. "
        f"ISO 12232's own mean exposure, 10/S, lies {mean:.2f} stops below clip. "
        f"A spot reading with K {own.k_cd_m2:g} cd/m² lies {spot:.2f} below, whatever the card. "
        f"An 18 % card under an incident reading, flat receptor, with C {own.c_flat_lx:g} lx lies "
        f"{flat:.2f} below. So this meter in spot mode asks for an offset of {gap:+.2f} EV "
        f"(give {abs(gap):.1f} stop {verb}) against the first answer even where nothing is wrong. "
        "Offsets here are against the aim that each result names."
    )


def reading_notes() -> tuple[str, ...]:
    """Return how signs, intervals and bounds are meant."""
    return (
        "A headroom that is a lower bound, because no frame reached clip, makes the offset a "
        "lower bound and the EI an upper one; both say so.",
        "A result holds for its ISO label, meter mode, light and apertures. What was not measured "
        "is not here: measure it before you rely on it.",
        "EI is the ISO number that puts the offset into the meter. The saturation speed is another "
        "number: ISO 12232's S_sat = 78/H_sat. It is absolute, so it rests on the meter's K or C, "
        "on what the lens passes (90 % assumed) and on the patch's place in the frame (q = 0.65 "
        "assumed) besides, and has a budget of its own.",
    )
