"""The fields of On set, few and big; the lists hold what the profile holds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from profiler.records import MODES
from profiler.web.fields import Field, mains_field, marks_field, plain
from profiler.web.onset.asked import FLASH_MODES, STEADY_MODES

if TYPE_CHECKING:
    from profiler.onset.profile import Profile

READING_HINT = "EV 10.3, 650 lx, f/8 1/125 ISO 100"
_SPOTS_SHOWN = 4
_LAMPS_SHOWN = 2


def settings_fields(profile: Profile) -> list[Field]:
    """Return the fields of settings."""
    return [
        Field(name="reading", label="Meter reading", hint=READING_HINT, big=True),
        _iso(profile, "best one for aperture and time"),
        Field(name="aperture", label="Aperture", hint="f/8 or T2.8; empty: as measured"),
        Field(name="time", label="Time", hint="1/60 or 180deg 24fps; empty: it is found"),
        *_narrowing(profile),
        Field(name="fps", label="Frame rate", hint="the angle is then found", more=True),
        *_more(),
    ]


def place_fields(profile: Profile, pairs: tuple[tuple[str, str], ...]) -> list[Field]:
    """Return the fields of place; pairs: the spots' names with readings."""
    shown = pairs + (("", ""),) * max(1, _SPOTS_SHOWN - len(pairs))
    return [
        _iso(profile, "choose"),
        Field(name="key", label="Key reading", hint=READING_HINT, big=True),
        Field(
            name="exposure",
            label="Exposure",
            value="aim",
            choices=(
                ("aim", "the key on the aim"),
                ("meter", "as the meter asks for the key"),
                ("setting", "by the camera's setting"),
            ),
        ),
        Field(name="setting", label="Camera setting", hint="f/8 1/60; for that choice only"),
        Field(name="spot", label="Spots", hint="two readings of one: EV 10; EV 11", pairs=shown),
        *_narrowing(profile),
        Field(name="keep", label="Must not clip", hint="names of spots; by ;", more=True),
        Field(name="shadow", label="Must not sink", hint="names of spots; by ;", more=True),
        *_more(),
    ]


def mix_fields(profile: Profile | None) -> list[Field]:
    """Return the fields of mix."""
    iso = Field(name="iso", label="ISO label", hint="empty: 100", numeric=True)
    if profile is not None:
        iso = _iso(profile, "100, or the only one")
    return [
        Field(name="flash", label="Flash reading", hint="f/8+3 ISO 100", big=True),
        Field(name="flash2", label="Second flash", hint="read alone; empty: none"),
        Field(name="ambient", label="Ambient reading", hint="EV 8; empty: none"),
        Field(name="time", label="Time", hint="1/60; it sets the ambient light"),
        Field(
            name="flash_reading",
            label="Flash was read",
            choices=(
                ("", "choose"),
                ("alone", "alone"),
                ("with-ambient", "with the ambient light in it"),
            ),
        ),
        iso,
        Field(name="aperture", label="Aperture that stays", hint="f/8: the flash is turned for it"),
        Field(name="share", label="Wanted part of flash", hint="in %, such as 70", numeric=True),
        Field(
            name="over", label="Wanted flash over ambient", hint="in stops, such as 1", more=True
        ),
        Field(name="total", label="Reading of the whole", hint="a part is found", more=True),
        Field(name="pops", label="Number of pops", value="1", numeric=True, more=True),
        Field(
            name="flash_mode",
            label="Flash meter mode",
            value="flash-flat",
            choices=plain(FLASH_MODES),
            more=True,
        ),
        Field(
            name="ambient_mode",
            label="Ambient meter mode",
            value="incident-flat",
            choices=plain(STEADY_MODES),
            more=True,
        ),
        _loss_field(),
        _transmission_field(),
        marks_field(),
    ]


def ratio_fields(pairs: tuple[tuple[str, str], ...] = ()) -> list[Field]:
    """Return the fields of the lighting ratio; pairs: names of further lights with readings."""
    shown = pairs + (("", ""),) * max(1, _LAMPS_SHOWN - len(pairs))
    return [
        Field(name="key", label="Key reading", hint=READING_HINT, big=True),
        Field(name="fill", label="Fill reading", hint=READING_HINT, big=True),
        Field(
            name="lamp",
            label="Further lights",
            hint="each read alone; empty: none",
            pairs=shown,
            pair="light",
        ),
        Field(name="wanted", label="Wanted", hint="hair=1 stop under; fill=4:1; separated by ;"),
        Field(name="aperture", label="Aperture for the sum", hint="f/8: what to turn for it"),
        Field(
            name="ambient_mode",
            label="Meter mode",
            choices=plain((*STEADY_MODES, *FLASH_MODES), "by the form of the reading"),
            more=True,
        ),
        Field(name="iso", label="ISO label", value="100", numeric=True, more=True),
        Field(name="time", label="Time", hint="1/60; steady light needs it", more=True),
        _loss_field(),
    ]


def convert_fields() -> list[Field]:
    """Return the fields of a conversion."""
    return [
        Field(
            name="quantity", label="Quantity", hint="EV 12, 650 lx, f/11, ND 0.9, Bv 5", big=True
        ),
        Field(name="iso", label="ISO of settings", value="100", numeric=True),
        Field(name="mode", label="Meter mode", choices=plain(MODES, "flat, if it matters")),
        Field(name="k", label="Meter constant K", hint="in cd/m²; empty: 12.5", more=True),
        Field(name="c", label="Meter constant C", hint="in lx; empty: 250, dome 340", more=True),
        Field(
            name="apex",
            label="Zero of APEX",
            value="exif",
            choices=(("exif", "Exif"), ("asa", "ASA")),
            more=True,
        ),
    ]


def names_of(fields: list[Field]) -> tuple[str, ...]:
    """Return the names of fields."""
    return tuple(each.name for each in fields)


def _iso(profile: Profile, left_open: str) -> Field:
    """The ISO labels held; where there are several, none is chosen for anybody."""
    isos = [str(iso) for iso in sorted({result.iso for result in profile.data.results})]
    if len(isos) == 1:
        return Field(name="iso", label="ISO label", value=isos[0], choices=plain(isos))
    return Field(name="iso", label="ISO label", choices=plain(isos, left_open))


def _narrowing(profile: Profile) -> list[Field]:
    """Mode and light, where the profile leaves a choice."""
    modes = list(dict.fromkeys(result.mode for result in profile.data.results))
    lights = list(dict.fromkeys(result.light for result in profile.data.results))
    found = []
    if len(modes) > 1:
        found.append(Field(name="mode", label="Meter mode", choices=plain(modes, "choose")))
    if len(lights) > 1:
        found.append(Field(name="light", label="Light", choices=plain(lights, "choose")))
    return found


def _loss_field() -> Field:
    hint = "ND 0.9; magnification 0.5; converter 1.4; separated by ;"
    return Field(name="loss", label="Filters and losses", hint=hint, more=True)


def _transmission_field() -> Field:
    return Field(
        name="transmission",
        label="Transmission of the lens",
        hint="0.9: lets T-stops meet f-numbers",
        numeric=True,
        more=True,
    )


def _more() -> list[Field]:
    return [
        _loss_field(),
        Field(
            name="aim",
            label="Aim",
            hint="iso12232, white-at-clip or stops below clip",
            more=True,
        ),
        _transmission_field(),
        Field(
            name="average",
            label="Several readings of one",
            value="stops",
            choices=(("stops", "averaged as stops"), ("light", "averaged as light")),
            more=True,
        ),
        marks_field(),
        mains_field(),
        Field(name="sync", label="Flash sync time", hint="1/200; empty: not asked", more=True),
        Field(
            name="between",
            label="ISO label between these",
            hint="640: answered with a wider margin",
            numeric=True,
            more=True,
        ),
    ]
