"""Series that a run left without a result: failed, or no longer there."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Literal

from profiler.files.regular import read_text
from profiler.fleet.batch.store import ERRORS

Kind = Literal["failed", "archived"]
_TEXTS: Final = ("series", "asset_tag", "camera_make", "camera_model", "camera_serial")


@dataclass(frozen=True, kw_only=True)
class Left:
    """A series without a result. failed: its data are at fault; archived: it is there no more.

    Identity as far as it is known, empty where not. why: the error in a sentence, or the name that
    the same frames have now; empty for a series that was deleted.
    """

    kind: Kind
    series: str
    asset_tag: str = ""
    camera_make: str = ""
    camera_model: str = ""
    camera_serial: str = ""
    why: str = ""

    @property
    def body(self) -> tuple[str, str, str]:
        """Which body it is of, named as a row names it."""
        name = self.camera_serial or f"tag {self.asset_tag or self.series}"
        return (self.camera_make, self.camera_model, name)


def series_left(folder: Path) -> tuple[Left, ...]:
    """Return the series that the last run into a folder left without a result, failed ones first.

    The folder is a run's output or the profiles in it; nothing is left where it is neither.
    """
    path = folder / ERRORS
    if not path.is_file() and folder.name == "profiles":
        path = folder.parent / ERRORS
    try:
        data = json.loads(read_text(path))
    except (OSError, ValueError, RecursionError):
        return ()
    if not isinstance(data, dict) or data.get("format") != "greytare-errors":
        return ()
    failed = [_left("failed", entry, _sentence(entry)) for entry in _entries(data, "failed")]
    gone = [
        _left("archived", entry, str(entry.get("now", ""))) for entry in _entries(data, "archived")
    ]
    return (*failed, *gone)


def _entries(data: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
    entries = data.get(name)
    if not isinstance(entries, list):
        return []
    return [entry for entry in entries if isinstance(entry, dict)]


def _left(kind: Kind, entry: Mapping[str, Any], why: str) -> Left:
    return Left(kind=kind, why=why, **{name: str(entry.get(name, "")) for name in _TEXTS})


def _sentence(entry: Mapping[str, Any]) -> str:
    return f"{entry.get('what', '')}. {entry.get('mend', '')}."
