"""What every question about a measured body may say."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from profiler.exposure.aims import parse_aim
from profiler.onset.camera import seconds_of

if TYPE_CHECKING:
    from profiler.exposure.stops import StopStep
    from profiler.onset.corrections import Texts
    from profiler.onset.lens import MountedLens
    from profiler.onset.metered import Average
    from profiler.results import Result


@dataclass(frozen=True, kw_only=True)
class OnBody:
    """A question about a measured body, as far as all of them are alike.

    mode, light: needed where the profile leaves a choice. aim: stops below clip, a known aim's
    name, None for the profile's. loss: light lost on the way, such as "ND 0.9". transmission: the
    part of the light that the measured lens passes. average: how several readings of one spot
    count. marks: steps of the camera's dials. mains_hz, sync_s: none where they aren't asked for;
    sync_s in s or as marked. lens: another than the calibrated one (see lens.mount). between:
    answer for an ISO label between measured ones, too.
    """

    mode: str | None = None
    light: str | None = None
    aim: float | str | None = None
    loss: Texts = ()
    transmission: float | None = None
    average: Average = "stops"
    marks: StopStep = "third"
    mains_hz: float = 0.0
    sync_s: float | str | None = None
    lens: MountedLens | None = None
    between: bool = False

    def aim_stops(self, result: Result) -> float:
        """Return the aim asked for, else the profile's."""
        if self.aim is None:
            return result.aim_stops
        return parse_aim(self.aim) if isinstance(self.aim, str) else self.aim

    def sync_time_s(self) -> float:
        """Return the shortest time for flash, 0 where it isn't asked for."""
        return seconds_of(self.sync_s, "sync") if self.sync_s else 0.0
