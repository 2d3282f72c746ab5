"""A profile as a script uses it."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from profiler.onset import lookup
from profiler.results import ProfileData, Result

if TYPE_CHECKING:
    from profiler.onset.check import Check
    from profiler.onset.corrections import Texts
    from profiler.onset.mix import Mix
    from profiler.onset.mix_camera import MixCamera
    from profiler.onset.place import Placed
    from profiler.onset.settings import Settings

PathText = str | os.PathLike[str]


@dataclass(frozen=True)
class Profile:
    """All results of one body, lens and meter, with what can be asked of them; unchanging.

    >>> profile.holdings
    'ISO 100, 400 by spot in daylight at f/4 and smaller'
    """

    data: ProfileData

    @classmethod
    def load(cls, path: PathText) -> Profile:
        """Return the profile in a file; ProfileError names the field that is wrong."""
        from profiler.files.profile import load_profile

        return cls(load_profile(Path(path)))

    def save(self, path: PathText, *, replace: bool = False) -> Path | None:
        """Write the profile whole or not at all; return where an older file was kept, if any."""
        from profiler.files.profile import save_profile

        return save_profile(self.data, Path(path), replace=replace)

    @property
    def holdings(self) -> str:
        """What the profile holds: ISO labels, modes, lights, apertures."""
        return lookup.holdings(self.data)

    def find(
        self,
        iso: int,
        mode: str | None = None,
        light: str | None = None,
        aperture: float | None = None,
    ) -> Result:
        """Return the one result for an ISO label, mode, light with aperture; none is guessed.

        >>> profile.find(400).first_to_clip
        'G'
        >>> profile.find(1600)
        Traceback (most recent call last):
        ...
        profiler.errors.ProfileError: the profile of Halden H2: ISO 1600 was not measured. It \
holds ISO 100, 400 by spot in daylight at f/4 and smaller; choose one of these, or calibrate \
what is missing.
        """
        return lookup.find(self.data, iso, mode, light, aperture)

    def settings(self, reading: str | Sequence[str], **options: Any) -> Settings:
        """Return what to set on meter or camera so that the metered grey lands on the aim.

        options: the other fields of `SettingsAsk`. With an aperture the time is found, with a
        time the aperture, with both what is left over at the ISO label (the best of the labels
        held, where none is given). loss: corrections such as "ND 0.9" or "magnification 0.5".

        >>> answer = profile.settings("EV 10.3", iso=400, aperture="f/8")
        >>> answer.setup.setting.label, round(answer.setup.left_ev, 2)
        ('f/8 1/100 s', 0.11)
        >>> answer.dial.ei_mark, answer.dial.compensation_ev
        (500.0, -0.3)
        """
        from profiler.onset.settings import SettingsAsk, settings

        return settings(self.data, SettingsAsk(reading=reading, **options))

    def place(self, iso: int, **options: Any) -> Placed:
        """Return where a key reading and named spots land, which are lost or in doubt.

        options: the other fields of `PlaceAsk`. setting: "aim" puts the key on the aim, "meter"
        gives what the meter asked for, else the camera's setting.

        >>> shot = profile.place(400, key="EV 12", setting="f/8 1/250",
        ...     spots=["white shirt=EV 14.1", "lamp=EV 17", "hair=EV 8.4"])
        >>> [(spot.name, spot.highlight) for spot in shot.spots]
        [('white shirt', 'safe'), ('lamp', 'clipped'), ('hair', 'safe')]
        >>> round(shot.spots[0].below_clip_ev.value, 2), round(shot.spots[0].below_clip_ev.u, 2)
        (0.6, 0.1)
        """
        from profiler.onset.place import PlaceAsk, place

        return place(self.data, PlaceAsk(iso=iso, **options))

    def mix(self, *, iso: int, **options: Any) -> tuple[Mix, MixCamera]:
        """Return flash and ambient added as light, and the f-number for it on this body.

        options: the other fields of `MixAsk`. The profile must hold the flash mode.

        >>> profile.mix(iso=400, flash="f/8 ISO 400")
        Traceback (most recent call last):
        ...
        profiler.errors.ProfileError: the profile of Halden H2: ISO 400 by flash-flat was not \
measured. It holds ISO 100, 400 by spot in daylight at f/4 and smaller; choose one of these, or \
calibrate what is missing.
        """
        from profiler.onset.mix_camera import MixAsk, mixed_light

        ask = MixAsk(iso=iso, **options)
        self.find(iso, ask.mode, ask.light)
        found = mixed_light(ask, self.data)
        if found.camera is None:
            raise TypeError("a result that was found gives an f-number")
        return found.mix, found.camera

    def check(
        self,
        frames: PathText | Sequence[PathText],
        reading: str | Sequence[str],
        *,
        mode: str | None = None,
        light: str | None = None,
        loss: Texts = (),
        patch: str = "auto",
        allow_8bit: bool = False,
    ) -> Check:
        """Return whether one or two raw frames came out as the profile says.

        The level that the reading predicts is compared with the patch's, within the uncertainty of
        both.
        """
        from profiler.onset.check import check, measure_for_check
        from profiler.onset.corrections import corrections_of, lost_ev

        paths = [frames] if isinstance(frames, str | os.PathLike) else list(frames)
        measurement = measure_for_check(
            [Path(path) for path in paths], patch=patch, allow_8bit=allow_8bit
        )
        lost = lost_ev(corrections_of(loss))
        return check(self.data, measurement, reading, mode=mode, light=light, lost_ev=lost)
