"""A profile as a script uses it."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from profiler.errors import ExposureError
from profiler.exposure.modes import is_flash
from profiler.exposure.stops import StopStep
from profiler.onset import lookup
from profiler.onset.camera import CameraSetting, parse_aperture, parse_shutter
from profiler.onset.corrections import Correction, parse_correction
from profiler.onset.metered import Average, read_meter_texts
from profiler.results import ProfileData, Result

if TYPE_CHECKING:
    from profiler.onset.check import Check
    from profiler.onset.mix import Holds, Mix
    from profiler.onset.mix_camera import MixCamera
    from profiler.onset.place import Placed
    from profiler.onset.scene import Scene
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

    def settings(
        self,
        reading: str | Sequence[str],
        *,
        iso: int | None = None,
        mode: str | None = None,
        light: str | None = None,
        aperture: str | None = None,
        time: str | None = None,
        fps: float | None = None,
        nd: Iterable[str | Correction] = (),
        transmission: float | None = None,
        aim: float | None = None,
        marks: StopStep = "third",
        average: Average = "stops",
        mains_hz: float = 0.0,
        sync_s: float = 0.0,
    ) -> Settings:
        """Return what to set on meter or camera so that the metered grey lands on the aim.

        With an aperture the time is found, with a time the aperture, with both what is left over
        at the ISO label (the best of the labels held, where none is given). nd: corrections such
        as "ND 0.9" or "magnification 0.5".

        >>> answer = profile.settings("EV 10.3", iso=400, aperture="f/8")
        >>> answer.setup.setting.label, round(answer.setup.left_ev, 2)
        ('f/8 1/100 s', 0.11)
        >>> answer.dial.ei_mark, answer.dial.compensation_ev
        (500.0, -0.3)
        """
        from profiler.onset.settings import Wish, solve

        wish = Wish(
            aperture=None if aperture is None else parse_aperture(aperture),
            shutter=None if time is None else parse_shutter(time),
            fps=fps,
            marks=marks,
            corrections=_corrections(nd),
            transmittance=transmission,
            mains_hz=mains_hz,
            sync_s=sync_s,
        )
        held = wish.aperture.marked if wish.aperture and wish.aperture.word == "f" else None
        if iso is not None:
            results = [self.find(iso, mode, light, held)]
        else:
            complete = wish.aperture is not None and (
                wish.shutter is not None or (mode is not None and is_flash(mode))
            )
            if not complete:
                raise ExposureError(
                    "the ISO label is missing",
                    "settings",
                    f"Give --iso, or both aperture and time; the profile holds {self.holdings}",
                )
            isos = lookup.labels(self.data, mode, light)
            results = [self.find(each, mode, light, held) for each in isos]
            if not results:
                self.find(0, mode, light)
        metered = read_meter_texts(
            reading, results[0].mode, lookup.meter_of(self.data), average=average
        )
        return solve(results, metered, wish, results[0].aim_stops if aim is None else aim)

    def place(
        self,
        iso: int,
        *,
        key: str | Sequence[str] | None = None,
        spots: Scene | Iterable[str] = (),
        mode: str | None = None,
        light: str | None = None,
        setting: str | CameraSetting = "aim",
        keep: Sequence[str] = (),
        shadows: Sequence[str] = (),
        aim: float | None = None,
        average: Average = "stops",
        nd: Iterable[str | Correction] = (),
        transmission: float | None = None,
        marks: StopStep = "third",
        mains_hz: float = 0.0,
        sync_s: float = 0.0,
    ) -> Placed:
        """Return where a key reading and named spots land, which are lost or in doubt.

        setting: "aim" puts the key on the aim, "meter" gives what the meter asked for, else the
        camera's setting.

        >>> shot = profile.place(400, key="EV 12", setting="f/8 1/250",
        ...     spots=["white shirt=EV 14.1", "lamp=EV 17", "hair=EV 8.4"])
        >>> [(spot.name, spot.highlight) for spot in shot.spots]
        [('white shirt', 'safe'), ('lamp', 'clipped'), ('hair', 'safe')]
        >>> round(shot.spots[0].below_clip_ev.value, 2), round(shot.spots[0].below_clip_ev.u, 2)
        (0.6, 0.1)
        """
        from profiler.onset.place import place
        from profiler.onset.scene import Scene, parse_spot

        scene = (
            spots
            if isinstance(spots, Scene)
            else Scene(spots=tuple(parse_spot(text, average) for text in spots))
        )
        return place(
            self.data,
            iso,
            key=key,
            scene=scene,
            mode=mode,
            light=light,
            setting=setting,
            keep=keep,
            shadows=shadows,
            aim_stops=aim,
            average=average,
            marks=marks,
            corrections=_corrections(nd),
            transmittance=transmission,
            mains_hz=mains_hz,
            sync_s=sync_s,
        )

    def mix(
        self,
        *,
        iso: int,
        flash: str | Iterable[str] = (),
        ambient: str | None = None,
        total: str | None = None,
        flash_reading: Holds | None = None,
        time: str | None = None,
        pops: int = 1,
        share: float | None = None,
        over_ambient_ev: float | None = None,
        mode: str = "flash-flat",
        ambient_mode: str = "incident-flat",
        light: str | None = None,
        marks: StopStep = "third",
    ) -> tuple[Mix, MixCamera]:
        """Return flash and ambient added as light, and the f-number for it on this body.

        flash_reading: whether the flash was read "alone" or "with-ambient". The profile must hold
        the flash mode.

        >>> profile.mix(iso=400, flash="f/8 ISO 400")
        Traceback (most recent call last):
        ...
        profiler.errors.ProfileError: the profile of Halden H2: ISO 400 by flash-flat was not \
measured. It holds ISO 100, 400 by spot in daylight at f/4 and smaller; choose one of these, or \
calibrate what is missing.
        """
        from profiler.onset.mix import mix
        from profiler.onset.mix_camera import camera_for

        result = self.find(iso, mode, light)
        meter = lookup.meter_of(self.data)
        flashes = [flash] if isinstance(flash, str) else list(flash)
        shutter = None if time is None else parse_shutter(time)
        mixed = mix(
            iso=float(iso),
            flashes=[read_meter_texts(text, mode, meter, where="flash") for text in flashes],
            ambient=None
            if ambient is None
            else read_meter_texts(ambient, ambient_mode, meter, where="ambient"),
            total=None if total is None else read_meter_texts(total, mode, meter, where="total"),
            holds=flash_reading,
            time_s=None if shutter is None else shutter.seconds(result.time_rule.used, marks),
            pops=pops,
            share=share,
            over_ambient_ev=over_ambient_ev,
        )
        return mixed, camera_for(mixed, result, marks=marks)

    def check(
        self,
        frames: PathText | Sequence[PathText],
        reading: str | Sequence[str],
        *,
        mode: str | None = None,
        light: str | None = None,
        nd: Iterable[str | Correction] = (),
        patch: str = "auto",
        allow_8bit: bool = False,
    ) -> Check:
        """Return whether one or two raw frames came out as the profile says.

        The level that the reading predicts is compared with the patch's, within the uncertainty of
        both.
        """
        from profiler.onset.check import check, measure_for_check
        from profiler.onset.corrections import lost_ev

        paths = [frames] if isinstance(frames, str | os.PathLike) else list(frames)
        measurement = measure_for_check(
            [Path(path) for path in paths], patch=patch, allow_8bit=allow_8bit
        )
        lost = lost_ev(_corrections(nd))
        return check(self.data, measurement, reading, mode=mode, light=light, lost_ev=lost)


def _corrections(texts: Iterable[str | Correction]) -> tuple[Correction, ...]:
    if isinstance(texts, str):
        texts = (texts,)
    return tuple(
        each if isinstance(each, Correction) else parse_correction(each, "nd") for each in texts
    )
