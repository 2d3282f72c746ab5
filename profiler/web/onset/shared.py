"""A tab of On set, and the fields that several of them have."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from profiler.errors import GreytareError
from profiler.exposure.modes import is_flash
from profiler.records import MODES
from profiler.show.answer import Answer
from profiler.show.inputs import ON_BODY
from profiler.web.fields import Field, Params, input_field, number, optional, plain, text, typed

if TYPE_CHECKING:
    from profiler.onset.profile import Profile

READING_HINT: Final = "EV 10.3, 650 lx, f/8 1/125 ISO 100"
_HINTS: Final = {
    "spot": "EV 10.3, 41 cd/m2, f/8 1/125 ISO 100",
    "flash": "f/8+3 ISO 100",
}
FLASH_MODES: Final = tuple(mode for mode in MODES if is_flash(mode))
STEADY_MODES: Final = tuple(mode for mode in MODES if not is_flash(mode))


@dataclass(frozen=True, kw_only=True)
class Tool:
    """A tab: what it is called and for, its form, the answer to that.

    form: the fields for a profile and what came in; none where it can't do without a profile.
    answer: to the fields as they stand, defaults counted, or what to type first. shared: fields
    that mean the same on other tabs; one of them is profile, where the answer follows from it.
    scale: the answer is drawn as a scale.
    """

    title: str
    purpose: str
    form: Callable[[Profile | None, Params], list[Field]]
    answer: Callable[[Profile | None, Params], Answer]
    shared: tuple[str, ...] = ()
    scale: bool = False


def needed(profile: Profile | None) -> Profile:
    """Return the profile; GreytareError says how to come by one where there is none."""
    if profile is None:
        raise GreytareError(
            "there is no profile yet", "", "Measure a series and save its profile first", "profile"
        )
    return profile


def iso_field(profile: Profile, left_open: str) -> Field:
    """Return the list of ISO labels held; where there are several, none is chosen for anybody."""
    isos = [str(iso) for iso in sorted({result.iso for result in profile.data.results})]
    if len(isos) == 1:
        return Field(name="iso", label="ISO label", value=isos[0], choices=plain(isos))
    return Field(name="iso", label="ISO label", choices=plain(isos, left_open))


def iso_of(params: Params) -> int | None:
    """Return the ISO label, one between the measured ones first; None where it is left open."""
    name = "between" if text(params, "between") else "iso"
    iso = number(params, name, low=1, high=5e6, whole=True)
    return None if iso is None else int(iso)


def reading_hint(profile: Profile) -> str:
    """Return readings as the modes of a profile have them."""
    kinds = ["flash" if is_flash(r.mode) else r.mode for r in profile.data.results]
    alike = all(kind == kinds[0] for kind in kinds)
    return _HINTS.get(kinds[0], READING_HINT) if alike else READING_HINT


def narrowing(profile: Profile) -> list[Field]:
    """Return the lists of modes and lights, where the profile leaves a choice."""
    modes = list(dict.fromkeys(result.mode for result in profile.data.results))
    lights = list(dict.fromkeys(result.light for result in profile.data.results))
    found = []
    if len(modes) > 1:
        found.append(Field(name="mode", label="Meter mode", choices=plain(modes, "choose")))
    if len(lights) > 1:
        found.append(Field(name="light", label="Light", choices=plain(lights, "choose")))
    return found


def body_fields() -> list[Field]:
    """Return what every question about a measured body has on demand."""
    between = Field(
        name="between",
        label="ISO label between these",
        hint="640: answered with a wider margin",
        numeric=True,
        more=True,
    )
    return [*(input_field(each) for each in ON_BODY), between]


def on_body(params: Params) -> dict[str, Any]:
    """Return what was typed into such fields and the narrowing ones, as the question has them."""
    return {
        **typed(ON_BODY, params),
        "mode": optional(params, "mode"),
        "light": optional(params, "light"),
        "between": bool(text(params, "between")),
    }


def rows_of(params: Params, name: str) -> list[tuple[str, str]]:
    """Return the rows of a field of names with readings as they came in, blank ones too."""
    names, readings = params.getlist(f"{name}_name"), params.getlist(name)
    names = [*names, *("" for _ in readings)]
    rows = zip(names, readings, strict=False)
    return [(" ".join(called[:60].split()), reading[:300].strip()) for called, reading in rows]


def shown_rows(params: Params, name: str, least: int) -> tuple[tuple[str, str], ...]:
    """Return the rows to show: those that came in, up to `least`, and one to fill in."""
    rows = [row for row in rows_of(params, name) if any(row)]
    return (*rows, *(("", "") for _ in range(max(1, least - len(rows)))))
