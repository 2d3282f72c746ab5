"""What raw development has to add so that a metered grey comes out where the aim says."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from profiler.records import Estimate
from profiler.results import NoiseProfile, ProfileData, Result


@dataclass(frozen=True, kw_only=True)
class Development:
    """One ISO label: exposure correction in stops, and the noise of its raw values.

    correction_ev: for frames exposed as the meter says at the label, of linear values from black;
    None where clip was not seen, so that only a bound is known. grey_of_clip, aimed_of_clip: where
    the metered grey lies before and after, as parts of clip. noise_profile: colour plane (R, G, B,
    or Y) -> pair as DNG has it, planes without figures left out.
    """

    iso: int
    mode: str
    light: str
    correction_ev: Estimate | None
    grey_of_clip: float
    aimed_of_clip: float
    noise_profile: Mapping[str, NoiseProfile]


def development(data: ProfileData) -> tuple[Development, ...]:
    """Return what each result asks of raw development.

    correction = clip headroom - aim, the offset: a grey 3.5 stops under clip that is aimed at 2.963
    wants +0.537, brighter. DNG's BaselineExposure has the same sign and unit (DNG 1.7.1: by how
    much, in EV, the zero point of exposure compensation moves; positive is brighter).
    """
    return tuple(_of(result) for result in data.results)


def _of(result: Result) -> Development:
    bound = result.offset_ev.lower_bound
    return Development(
        iso=result.iso,
        mode=result.mode,
        light=result.light,
        correction_ev=None if bound else result.offset_ev,
        grey_of_clip=2.0**-result.clip_headroom_ev.value,
        aimed_of_clip=2.0**-result.aim_stops,
        noise_profile=_planes(result),
    )


def _planes(result: Result) -> dict[str, NoiseProfile]:
    """The pairs by colour plane, in the order of CFAPlaneColor; both greens are one plane."""
    found: dict[str, list[NoiseProfile]] = {}
    for name in ("R", "G", "G1", "G2", "B", "Y"):
        channel = result.channels.get(name)
        if channel is not None and channel.noise_profile is not None:
            found.setdefault(name[0], []).append(channel.noise_profile)
    return {
        plane: NoiseProfile(
            scale=math.fsum(pair.scale for pair in pairs) / len(pairs),
            offset=math.fsum(pair.offset for pair in pairs) / len(pairs),
        )
        for plane, pairs in found.items()
    }
