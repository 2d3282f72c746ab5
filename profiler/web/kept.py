"""What was asked last, so that a change of tab doesn't lose it."""

from __future__ import annotations

import threading
from typing import Final

from starlette.datastructures import QueryParams

SHARED: Final = ("profile", "iso", "reading", "mode", "light", "folder")
"""Fields that mean the same on every tab that has them; a key reading is a reading."""
_AS_READING: Final = {"place": "key", "ratio": "key"}


class Kept:
    """Each tab's own fields, and those that all share; for one page, while it runs."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._own: dict[str, list[tuple[str, str]]] = {}
        self._shared: dict[str, str] = {}

    def recall(self, tab: str, came: QueryParams, fields: tuple[str, ...]) -> QueryParams:
        """Return what came in, or, where nothing did, what the tab held last with what is shared.

        fields: those of the shared ones that the tab has.
        """
        if came:
            return came
        key = _AS_READING.get(tab, "reading")
        with self._lock:
            own = [pair for pair in self._own.get(tab, []) if pair[0] not in (*SHARED, key)]
            shared = dict(self._shared)
        shared[key] = shared.pop("reading", "")
        held = [(name, shared[name]) for name in fields if shared.get(name)]
        return QueryParams(held + own)

    def keep(self, tab: str, asked: QueryParams) -> None:
        """Remember what a tab was asked."""
        key = _AS_READING.get(tab, "reading")
        with self._lock:
            self._own[tab] = list(asked.multi_items())
            for name, value in asked.multi_items():
                shared = "reading" if name == key else name
                if shared in SHARED:
                    self._shared[shared] = value

    def last(self, name: str) -> str:
        """Return a shared field, empty where nobody asked."""
        with self._lock:
            return self._shared.get(name, "")
