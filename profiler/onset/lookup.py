"""The result of a profile that an answer may rest on, or a refusal that lists what there is."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from profiler.errors import ProfileError
from profiler.onset.aperture import accepts, band_words, check_aperture
from profiler.records import Meter
from profiler.results import ProfileData, Result


def find(
    data: ProfileData,
    iso: int,
    mode: str | None = None,
    light: str | None = None,
    aperture: float | None = None,
) -> Result:
    """Return the one result for an ISO label, meter mode, light with aperture; nothing is guessed.

    A mode or light that is left out must be the only one there. Nothing is interpolated:
    ProfileError lists what the profile holds.
    """
    asked = asked_words(iso, mode, light)
    left = _narrow(data, data.results, lambda r: r.iso == iso, asked)
    if mode is not None:
        left = _narrow(data, left, lambda r: r.mode == mode, asked)
    if light is not None:
        left = _narrow(data, left, lambda r: r.light == light, asked)
    _single(data, left, "meter mode", "mode", {r.mode for r in left})
    _single(data, left, "light", "light", {r.light for r in left})
    if aperture is not None:
        fits = [r for r in left if accepts(r, aperture)]
        if not fits:
            check_aperture(left[0], aperture, profile_name(data))
        left = fits
    if len(left) > 1:
        raise ProfileError(
            f"the profile holds several apertures for {asked}",
            profile_name(data),
            f"Say at which aperture you work; it holds {holdings(data)}",
        )
    return left[0]


def labels(data: ProfileData, mode: str | None, light: str | None) -> tuple[int, ...]:
    """Return the ISO labels held for a mode in a light, in rising order."""
    found = {
        r.iso
        for r in data.results
        if (mode is None or r.mode == mode) and (light is None or r.light == light)
    }
    return tuple(sorted(found))


def holdings(data: ProfileData) -> str:
    """Return what a profile holds: `ISO 100, 400 by spot in daylight at f/4 and smaller`."""
    groups: dict[tuple[str, str, str], list[int]] = {}
    for r in data.results:
        groups.setdefault((r.mode, r.light, band_words(r)), []).append(r.iso)
    return "; ".join(
        f"ISO {', '.join(str(iso) for iso in sorted(isos))} by {mode} in {light} at {band}"
        for (mode, light, band), isos in groups.items()
    )


def profile_name(data: ProfileData) -> str:
    """Return the words that stand for a profile in messages: its body."""
    body = f"{data.camera.make} {data.camera.model}".strip()
    if data.camera.model.lower().startswith(data.camera.make.lower()):
        body = data.camera.model
    return f"the profile of {body}" if body else "the profile"


def modes_of(data: ProfileData) -> tuple[str, ...]:
    """Return the meter modes that a profile holds, in the order of its results."""
    return tuple(dict.fromkeys(r.mode for r in data.results))


def meter_of(data: ProfileData) -> Meter:
    """Return the meter that a profile was measured with."""
    return Meter(**vars(data.meter))


def asked_words(iso: int, mode: str | None, light: str | None) -> str:
    """Return what was asked for, in words."""
    by = f" by {mode}" if mode else ""
    return f"ISO {iso}{by}{f' in {light}' if light else ''}"


def _narrow(
    data: ProfileData, results: Sequence[Result], keep: Callable[[Result], bool], asked: str
) -> list[Result]:
    left = [r for r in results if keep(r)]
    if not left:
        raise ProfileError(
            f"{asked} was not measured",
            profile_name(data),
            f"It holds {holdings(data)}; choose one of these, or calibrate what is missing",
        )
    return left


def _single(
    data: ProfileData, left: Sequence[Result], what: str, field: str, found: set[str]
) -> None:
    if len(found) > 1:
        raise ProfileError(
            f"several of its results fit, with {what} {' or '.join(sorted(found))}",
            profile_name(data),
            f"Say which {what} you mean ({{{field}}})",
            field,
        )
