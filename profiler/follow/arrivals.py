"""Which files of a folder are whole, as others are still being copied into it."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from profiler.errors import FrameError, GreytareError
from profiler.frames.cache import Signature, signature_of
from profiler.frames.folder import check_frame, is_frame_name, without_pictures

STILL_S: Final = 0.15
"""A file that hasn't changed for so long is tried; a copy that goes on changes it more often."""
TRY_AGAIN_S: Final = 1.0
PATIENCE_S: Final = 10.0
"""A file that can't be read and hasn't changed for so long is damaged, not unfinished."""


@dataclass
class _File:
    path: Path
    signature: Signature
    since: float
    tried_at: float = -1.0
    error: GreytareError | None = None
    done: bool = False


class Arrivals:
    """The frames of one folder by looking again and again, which works on network folders too.

    Events of the file system don't tell what another machine writes. Nothing shows for sure that a
    file is whole: one that keeps still is tried, and one that can't be read is waited for.
    """

    def __init__(
        self,
        folder: Path,
        clock: Callable[[], float] = time.monotonic,
        may_use: Callable[[Path], bool] = lambda _: True,
    ) -> None:
        self.folder, self._clock, self._may_use = folder, clock, may_use
        self._files: dict[str, _File] = {}

    def look(self) -> list[Path]:
        """Return the files to try now, by name; FrameError where the folder can't be read."""
        now = self._clock()
        found = self._listed()
        for name in set(self._files) - set(found):
            del self._files[name]
        for name, (path, signature) in found.items():
            known = self._files.get(name)
            if known is None or known.signature != signature:
                self._files[name] = _File(path=path, signature=signature, since=now)
        return [
            file.path
            for _, file in sorted(self._files.items())
            if not file.done
            and now - file.since >= STILL_S
            and (file.tried_at < file.since or now - file.tried_at >= TRY_AGAIN_S)
            and not self._is_broken(file, now)
        ]

    def signature(self, name: str) -> Signature | None:
        """Return what a file was when it was last looked at, None where it is gone."""
        file = self._files.get(name)
        return None if file is None else file.signature

    def accept(self, name: str) -> None:
        """Take a file for whole until it changes."""
        if name in self._files:
            self._files[name].done = True

    def try_again(self, name: str) -> None:
        """Let a file that was accepted be tried once more."""
        if name in self._files:
            self._files[name].done, self._files[name].tried_at = False, -1.0

    def refuse(self, name: str, error: GreytareError) -> None:
        """Wait for a file that can't be read."""
        if name in self._files:
            self._files[name].tried_at, self._files[name].error = self._clock(), error

    @property
    def whole(self) -> set[str]:
        """Names of the files that were accepted and have not changed since."""
        return {name for name, file in self._files.items() if file.done}

    @property
    def waiting(self) -> tuple[str, ...]:
        """Names of the files that aren't whole yet."""
        now = self._clock()
        return tuple(
            name
            for name, file in sorted(self._files.items())
            if not file.done and not self._is_broken(file, now)
        )

    @property
    def broken(self) -> dict[str, GreytareError]:
        """Name -> why a file can't be read although it has long been still."""
        now = self._clock()
        return {
            name: file.error
            for name, file in sorted(self._files.items())
            if file.error is not None and not file.done and self._is_broken(file, now)
        }

    def _is_broken(self, file: _File, now: float) -> bool:
        return file.error is not None and now - file.since >= PATIENCE_S

    def _listed(self) -> dict[str, tuple[Path, Signature]]:
        found = {}
        try:
            names = [entry.name for entry in self.folder.iterdir()]
        except OSError as error:
            raise FrameError(
                f"the folder can't be read ({error.strerror})",
                str(self.folder),
                "Give the folder that the frames are copied into; a network folder may have "
                "gone for a while",
            ) from error
        for name in names:
            path = self.folder / name
            try:
                if is_frame_name(name) and not path.is_dir() and self._may_use(path):
                    check_frame(path)
                    found[name] = (path, signature_of(path.stat()))
            except (OSError, GreytareError):  # gone again, or nothing that could be a frame
                continue
        kept = set(without_pictures([path for path, _ in found.values()]))
        return {name: each for name, each in found.items() if each[0] in kept}
