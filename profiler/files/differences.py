"""What differs between two profiles, field by field."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any, Final

from profiler.results import ProfileData

_WHEN_AND_BY_WHAT: Final = ("provenance.created", "provenance.software")


@dataclass(frozen=True, kw_only=True)
class Difference:
    """A field whose values differ; None where one of the profiles lacks it."""

    field: str
    before: Any
    after: Any


def differences(before: ProfileData, after: ProfileData) -> list[Difference]:
    """Return the fields that differ; when and by which software a profile was made is left out."""
    found = _walk("", asdict(before), asdict(after))
    return [each for each in found if each.field not in _WHEN_AND_BY_WHAT]


def _walk(place: str, before: Any, after: Any) -> Iterator[Difference]:
    if isinstance(before, dict) and isinstance(after, dict):
        for name in dict.fromkeys((*before, *after)):
            inner = f"{place}.{name}" if place else str(name)
            yield from _walk(inner, before.get(name), after.get(name))
    elif isinstance(before, list | tuple) and isinstance(after, list | tuple):
        for k in range(max(len(before), len(after))):
            pair = (each[k] if k < len(each) else None for each in (before, after))
            yield from _walk(f"{place}[{k}]", *pair)
    elif before != after:
        yield Difference(field=place, before=before, after=after)
