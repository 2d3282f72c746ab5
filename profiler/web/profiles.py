"""Saved profiles below the start folder, to choose from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

from profiler.errors import GreytareError
from profiler.frames.cache import Signature, signature_of
from profiler.show.answer import Answer, asking
from profiler.web import folders
from profiler.web.fields import Field

if TYPE_CHECKING:
    from profiler.onset.profile import Profile
    from profiler.results import ProfileData
    from profiler.web.session import Session

_MOST_READ: Final = 100
"""The newest profiles are named by what they hold; of more than these nobody chooses one here."""


@dataclass(frozen=True, kw_only=True)
class Known:
    """A profile to choose: body, whether a result of it is in doubt, and what it is called.

    body: None where the file wasn't or can't be read.
    """

    path: str
    body: tuple[str, str, str] | None
    doubted: bool
    name: str


@dataclass(frozen=True, kw_only=True)
class Choice:
    """The profiles there are, newest first, and the path of the one to answer from; empty: none."""

    known: tuple[Known, ...]
    chosen: str

    @property
    def asks(self) -> Answer | None:
        """The request to choose one, where there are some and none is chosen."""
        if self.chosen or not self.known:
            return None
        return asking("Choose the profile of your body, lens, meter and light.")


def choose(session: Session, asked: str) -> Choice:
    """Return the profiles there are and the one asked for; else the newest that isn't in doubt.

    Where they are of several bodies, none is chosen for anybody.
    """
    paths = folders.find_files(session.start, folders.PROFILE_SUFFIX)
    known = tuple(_known(session, path, read=i < _MOST_READ) for i, path in enumerate(paths))
    at = first_of([each.body for each in known], [each.doubted for each in known])
    return Choice(known=known, chosen=asked or ("" if at is None else known[at].path))


def first_of(bodies: Sequence[tuple[str, str, str] | None], doubted: Sequence[bool]) -> int | None:
    """Return which of some profiles to start with; None where they are of several bodies."""
    if len(set(bodies)) != 1:
        return None
    return doubted.index(False) if False in doubted else 0


def body_of(data: ProfileData) -> tuple[str, str, str]:
    """Return what tells a body from others."""
    return data.camera.make, data.camera.model, data.camera.serial


def is_doubted(data: ProfileData) -> bool:
    """Return whether one of its results is in doubt, or a bound."""
    from profiler.show.doubts import doubts_of

    return any(doubts_of(each) or each.clip_headroom_ev.lower_bound for each in data.results)


def load(session: Session, chosen: str) -> Profile | None:
    """Return the profile of that path, None where none is chosen."""
    from profiler.onset.profile import Profile

    return Profile.load(folders.inside(session.start, chosen)) if chosen else None


def profile_field(choice: Choice, empty: str = "") -> Field:
    """Return the list to choose a profile from; empty: words for an older one, or none."""
    choices = tuple((each.path, each.name) for each in choice.known)
    if choices and (empty or not choice.chosen):
        choices = (("", empty or "choose"), *choices)
    label = "Older profile of this body" if empty else "Profile"
    return Field(name="profile", label=label, value=choice.chosen, choices=choices, reload=True)


def _known(session: Session, path: str, *, read: bool) -> Known:
    short = path.removesuffix(folders.PROFILE_SUFFIX)
    try:
        file = folders.inside(session.start, path)
        body, doubted, name = _about(file, signature_of(file.stat())) if read else (None, True, "")
    except (GreytareError, OSError):
        body, doubted, name = None, True, "can't be read"
    mark = " (in doubt)" if body and doubted else ""
    return Known(
        path=path,
        body=body,
        doubted=doubted,
        name=f"{short}{mark}: {name}" if name else short,
    )


@lru_cache(maxsize=8 * _MOST_READ)
def _about(file: Path, _: Signature) -> tuple[tuple[str, str, str], bool, str]:
    """Body, whether it is in doubt, and the words for the list."""
    from profiler.files.profile import load_profile
    from profiler.show.calibration.identity import who

    data = load_profile(file)
    doubted = is_doubted(data)
    return body_of(data), doubted, who(data)
