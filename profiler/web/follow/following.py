"""A folder that the page follows in a thread of its own."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Final

from profiler.errors import GreytareError
from profiler.files.mishap import mishap
from profiler.follow.records import FollowAsk, Growing
from profiler.follow.series import Follow

_PAUSE_S: Final = 0.1
_PATIENT: Final = 4.0
"""A folder on a slow network is looked at in a quarter of the time at most."""


class Following:
    """Looks until it is stopped; `error` says why it can't see the folder now, None if it can."""

    def __init__(
        self, folder: Path, ask: FollowAsk, sheet: Path, may_use: Callable[[Path], bool]
    ) -> None:
        self.ask = ask
        self.error: GreytareError | None = None
        self._follow = Follow(folder, ask, sheet=sheet, may_use=may_use)
        self._stop = threading.Event()
        self._state = self._follow.state()
        self._thread = threading.Thread(target=self._run, name="greytare-follow", daemon=True)
        self._thread.start()

    def state(self) -> Growing:
        """Return what is known now."""
        return self._state

    def stop(self) -> Growing:
        """End it, and let the patch hold for the measurement of the whole series."""
        self._stop.set()
        self._thread.join()
        return self._state

    def _run(self) -> None:
        try:
            while not self._stop.is_set():
                began = time.monotonic()
                changed = False
                try:
                    changed = self._follow.look()
                    self.error = None
                    if changed:
                        self._state = self._follow.state()
                except GreytareError as error:
                    self.error = error
                spent = time.monotonic() - began
                self._stop.wait(max(_PAUSE_S, 0.0 if changed else _PATIENT * spent))
            self._follow.keep_patch()
        except Exception as error:
            self.error = mishap(error, "following")
            raise
        finally:
            self._follow.close()
