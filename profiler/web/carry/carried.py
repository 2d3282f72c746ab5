"""What of a profile a carried page holds: the fields that its answers read, no files and hashes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass, replace
from typing import Any, Final

from profiler.flags import moves_answers
from profiler.results import ProfileData, ResultFrame
from profiler.web.carry.javascript import Script

_ONLY: Final = {
    "ResultFrame": ("aperture",),
    "BudgetRow": ("source", "sensitivity", "dof", "contribution_ev"),
    "Provenance": (),
    "AtAperture": ("aperture", "clip_headroom_ev", "effective_dof"),
    "CameraIdentity": ("make", "model"),
    "Flag": ("name", "size", "unit"),
}
"""Fields of a record where others of the same name would come along for nothing."""
_LEFT_OUT: Final = frozenset(("saturation_budget", "shutter", "modes", "offset_ev"))


def carried(profile: ProfileData, script: Script) -> Any:
    """Return a profile as JSON that the script reads."""
    results = [
        replace(each, frames=_few(each.frames), flags=tuple(filter(moves_answers, each.flags)))
        for each in profile.results
    ]
    return _plain(replace(profile, results=tuple(results)), script)


def _few(frames: Sequence[ResultFrame]) -> tuple[ResultFrame, ...]:
    """As few frames as still tell at which apertures, and at which most of them, they were shot."""
    counts = Counter(frame.aperture for frame in frames)
    ranks = sorted(set(counts.values()))
    first = {frame.aperture: frame for frame in reversed(frames)}
    return tuple(
        first[aperture] for aperture, count in counts.items() for _ in range(ranks.index(count) + 1)
    )


def _plain(value: Any, script: Script) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        kind = type(value).__name__
        names = _ONLY.get(kind, [each.name for each in fields(value)])
        return {
            script.field(name): _plain(getattr(value, name), script)
            for name in names
            if script.reads(name) and name not in _LEFT_OUT
        }
    if isinstance(value, Mapping):
        return {"~": [[key, _plain(each, script)] for key, each in value.items()]}
    if isinstance(value, tuple | list):
        return [_plain(each, script) for each in value]
    return value
