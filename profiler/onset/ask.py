"""What can be asked on set: one record a question, its texts as a person types them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

if TYPE_CHECKING:
    from profiler.exposure.apex import Zero
    from profiler.exposure.stops import StopStep
    from profiler.onset.camera import CameraSetting
    from profiler.onset.corrections import Correction
    from profiler.onset.lens import MountedLens
    from profiler.onset.metered import Average
    from profiler.onset.scene import Scene
    from profiler.results import Result

Holds = Literal["alone", "with-ambient"]
Texts = str | Iterable["str | Correction"]

HOLDS: Final[tuple[Holds, ...]] = ("alone", "with-ambient")
Shutters = Literal["mechanical", "electronic"]
MECHANICAL: Final = "mechanical"
ELECTRONIC: Final = "electronic"
AIM: Final = "aim"
METER: Final = "meter"


@dataclass(frozen=True, kw_only=True)
class OnBody:
    """What every question about a measured body may say.

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
        from profiler.exposure.aims import parse_aim

        return parse_aim(self.aim) if isinstance(self.aim, str) else self.aim

    def sync_time_s(self) -> float:
        """Return the shortest time for flash, 0 where it isn't asked for."""
        return seconds_of(self.sync_s, "sync") if self.sync_s else 0.0


@dataclass(frozen=True, kw_only=True)
class SettingsAsk(OnBody):
    """What to set for a reading; iso None takes the best label where aperture and time are given.

    fps: frame rate, for which an angle is found where no time is given.
    """

    reading: str | Sequence[str]
    iso: int | None = None
    aperture: str | None = None
    time: str | None = None
    fps: float | None = None


@dataclass(frozen=True, kw_only=True)
class PlaceAsk(OnBody):
    """Where a key reading and named spots land.

    spots: a scene, or texts such as "hair=EV 8.1". setting: AIM puts the key on the aim, METER
    gives what the meter asked for, else the camera's. keep, shadows: names of spots to hold.
    """

    iso: int
    key: str | Sequence[str] | None = None
    spots: Scene | Iterable[str] = ()
    setting: str | CameraSetting = AIM
    keep: Sequence[str] = ()
    shadows: Sequence[str] = ()
    sort: Literal["given", "bright"] = "given"


@dataclass(frozen=True, kw_only=True)
class MixAsk:
    """How flash and ambient add up.

    iso None: 100, or the only label of the profile. flash_reading: whether flash was read "alone"
    or "with-ambient". share (0 to 1) or over_ambient_ev: what is wanted. aperture: one that stays,
    for which the flash is turned. loss, transmission, lens: as in OnBody.
    """

    iso: int | None = None
    flash: str | Iterable[str] = ()
    ambient: str | None = None
    total: str | None = None
    flash_reading: Holds | None = None
    time: str | None = None
    pops: int = 1
    share: float | None = None
    over_ambient_ev: float | None = None
    mode: str = "flash-flat"
    ambient_mode: str = "incident-flat"
    light: str | None = None
    marks: StopStep = "third"
    aperture: str | None = None
    loss: Texts = ()
    transmission: float | None = None
    lens: MountedLens | None = None


@dataclass(frozen=True, kw_only=True)
class RatioAsk:
    """How key and other lights stand to each other, each read alone at the subject.

    fill: one reading or several, each perhaps with its name ("hair=f/5.6 ISO 100"). wanted: how
    lights should stand to the key, such as "hair=1 stop under" or "4:1" (key : light). aperture:
    one that all of them should sum up to at iso, with time where they aren't flash; loss as in
    OnBody. ambient_mode: how they were read; None takes the usual one for the form of each reading.
    """

    key: str
    fill: str | Sequence[str]
    wanted: Sequence[str] = ()
    aperture: str | None = None
    time: str | None = None
    iso: int = 100
    loss: Texts = ()
    ambient_mode: str | None = None


@dataclass(frozen=True, kw_only=True)
class ConvertAsk:
    """All that a quantity stands for.

    iso: of settings; mode: which constant of the meter counts; k_cd_m2, c_lx: other constants than
    the meter's, C of dome and flat alike; zero: whose APEX scale.
    """

    quantity: str
    iso: float = 100.0
    mode: str | None = None
    k_cd_m2: float | None = None
    c_lx: float | None = None
    zero: Zero = "exif"


@dataclass(frozen=True, kw_only=True)
class PlanAsk:
    """What to shoot for a calibration: the body's limits, the light, how much of it.

    readings: of a steady light, taken anew, before and after the frames. shutter: MECHANICAL, or
    ELECTRONIC where none moves. goal_ev: half the 95 % interval that the cheapest plan is wanted
    for, with no fewer readings and frames than asked for.
    """

    isos: tuple[int, ...] = (100,)
    reading: str | None = None
    mode: str = "spot"
    light: str = "daylight"
    aperture: str | None = None
    min_time: str = "1/4000"
    max_time: str = "0.8"
    marks: StopStep = "third"
    mains_hz: float = 0.0
    sync: str = "1/125"
    loss: Texts = ()
    bits: int = 14
    short: bool = False
    copies: int = 2
    darks: int = 2
    readings: int = 2
    shutter: Shutters = MECHANICAL
    goal_ev: float | None = None

    @property
    def lit_by(self) -> str:
        """The light: flash wherever flash is read."""
        from profiler.exposure.modes import is_flash

        return "flash" if is_flash(self.mode) else self.light


def corrections_of(texts: Texts) -> tuple[Correction, ...]:
    """Return what filters and the like take away, from texts or made already."""
    from profiler.errors import about
    from profiler.onset.corrections import Correction, parse_correction

    several = (texts,) if isinstance(texts, str) else texts
    with about("loss"):
        return tuple(
            each if isinstance(each, Correction) else parse_correction(each, "loss")
            for each in several
        )


def seconds_of(typed: float | str, field: str) -> float:
    """Return a time in s, from a number or as it is marked."""
    if not isinstance(typed, str):
        return typed
    from profiler.errors import about
    from profiler.onset.camera import parse_shutter

    with about(field):
        return parse_shutter(typed, field.replace("_", " ")).marked_s
