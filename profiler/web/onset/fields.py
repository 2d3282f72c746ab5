"""The fields of On set, few and big; the lists hold what the profile holds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from profiler.web.fields import Field, mains_field, marks_field, plain
from profiler.web.onset.mix_answers import FLASH_MODES, STEADY_MODES

if TYPE_CHECKING:
    from profiler.onset.profile import Profile

READING_HINT = "EV 10.3, 650 lx, f/8 1/125 ISO 100"
_SPOTS_SHOWN = 4


def settings_fields(profile: Profile) -> list[Field]:
    """Return the fields of settings."""
    return [
        Field(name="reading", label="Meter reading", hint=READING_HINT, big=True),
        _iso(profile, "best one for aperture and time"),
        Field(name="aperture", label="Aperture", hint="f/8 or T2.8; empty: as measured"),
        Field(name="time", label="Time", hint="1/60; empty: it is found"),
        *_narrowing(profile),
        *_more(),
    ]


def place_fields(profile: Profile, pairs: tuple[tuple[str, str], ...]) -> list[Field]:
    """Return the fields of place; pairs: the spots' names with readings."""
    shown = pairs + (("", ""),) * max(1, _SPOTS_SHOWN - len(pairs))
    return [
        _iso(profile, None),
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
        *_more(),
    ]


def mix_fields(profile: Profile | None) -> list[Field]:
    """Return the fields of mix."""
    iso = Field(name="iso", label="ISO label", value="100", numeric=True)
    if profile is not None:
        iso = _iso(profile, None)
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
        Field(name="share", label="Wanted part of flash", hint="in %, such as 70", numeric=True),
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
    ]


def ratio_fields() -> list[Field]:
    """Return the fields of the lighting ratio."""
    return [
        Field(name="key", label="Key reading", hint=READING_HINT, big=True),
        Field(name="fill", label="Fill reading", hint=READING_HINT, big=True),
        Field(
            name="ambient_mode",
            label="Meter mode",
            value="incident-flat",
            choices=plain((*STEADY_MODES, *FLASH_MODES)),
        ),
    ]


def names_of(fields: list[Field]) -> tuple[str, ...]:
    """Return the names of fields."""
    return tuple(each.name for each in fields)


def _iso(profile: Profile, best: str | None) -> Field:
    isos = sorted({result.iso for result in profile.data.results})
    choices = plain((str(iso) for iso in isos), best)
    return Field(name="iso", label="ISO label", value=str(isos[0]), choices=choices)


def _narrowing(profile: Profile) -> list[Field]:
    """Mode and light, where the profile leaves a choice."""
    modes = list(dict.fromkeys(result.mode for result in profile.data.results))
    lights = list(dict.fromkeys(result.light for result in profile.data.results))
    found = []
    if len(modes) > 1:
        found.append(Field(name="mode", label="Meter mode", value=modes[0], choices=plain(modes)))
    if len(lights) > 1:
        found.append(Field(name="light", label="Light", value=lights[0], choices=plain(lights)))
    return found


def _more() -> list[Field]:
    return [
        Field(
            name="nd",
            label="Filters and losses",
            hint="ND 0.9; magnification 0.5; separated by ;",
            more=True,
        ),
        Field(
            name="aim",
            label="Aim",
            hint="iso12232, white-at-clip or stops below clip",
            more=True,
        ),
        marks_field(),
        mains_field(),
        Field(name="sync", label="Flash sync time", hint="1/200; empty: not asked", more=True),
    ]
