"""Saved profiles below the start folder, to choose from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from profiler.web import folders
from profiler.web.fields import Field

if TYPE_CHECKING:
    from profiler.onset.profile import Profile
    from profiler.web.session import Session


def choose(session: Session, asked: str) -> tuple[list[str], str]:
    """Return the profiles there are, newest first, and the one asked for (else the newest)."""
    known = folders.find_files(session.start, folders.PROFILE_SUFFIX)
    return known, asked or (known[0] if known else "")


def load(session: Session, chosen: str) -> Profile | None:
    """Return the profile of that path, None where none is chosen."""
    from profiler.onset.profile import Profile

    return Profile.load(folders.inside(session.start, chosen)) if chosen else None


def profile_field(known: list[str], chosen: str, empty: str = "") -> Field:
    """Return the list to choose a profile from; empty: words for choosing none."""
    choices = tuple((path, path.removesuffix(folders.PROFILE_SUFFIX)) for path in known)
    if empty:
        choices = (("", empty), *choices)
    label = "Older profile of this body" if empty else "Profile"
    return Field(name="profile", label=label, value=chosen, choices=choices, reload=True)
