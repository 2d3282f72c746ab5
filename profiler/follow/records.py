"""What is known of a series while it is being shot."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

Zone = Literal[
    "above clip", "just under clip", "between the grey and clip", "near the grey", "in the shadows"
]
ZONES: Final[tuple[Zone, ...]] = (
    "above clip",
    "just under clip",
    "between the grey and clip",
    "near the grey",
    "in the shadows",
)
"""Where a frame can be missing, from the brightest down."""

WrongKind = Literal[
    "aperture", "light", "reading", "glare", "moved", "shadow", "unplanned-iso", "broken", "sheet"
]


@dataclass(frozen=True, kw_only=True)
class FollowAsk:
    """What a series is to hold, and what the meter showed.

    isos: planned labels, empty for those that come. reading, mode: a reading that holds for all
    frames, "" for the sheet's alone. short, copies, darks: as in a plan.
    """

    isos: tuple[int, ...] = ()
    reading: str = ""
    mode: str = "spot"
    short: bool = False
    copies: int = 2
    darks: int = 2


@dataclass(frozen=True, kw_only=True)
class Point:
    """A lit frame on the response line; level_dn: channel -> DN above black.

    part: how much of the range from black to clip its brightest channel fills. deviation_ev: how
    far it lies off the line of the frames so far, None where it has clipped or is too dark.
    """

    file: str
    time_s: float | None
    placement_ev: float
    level_dn: Mapping[str, float]
    part: float
    clipped: bool
    deviation_ev: float | None


@dataclass(frozen=True, kw_only=True)
class Missing:
    """So many frames that one label still lacks in a zone.

    times_s: marked times that give them, as a plan lists them, where they are known; copies: frames
    at each.
    """

    zone: Zone
    frames: int
    times_s: tuple[float, ...]
    copies: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True)
class GrowingLabel:
    """One ISO label so far: metered_dn and clip_dn above black by channel, empty while unknown.

    headroom_ev: of the channel that clips first, None until clip was seen. darks_missing: lens-cap
    frames that the plan still wants.
    """

    iso: int
    mode: str
    points: tuple[Point, ...] = ()
    metered_dn: Mapping[str, float] = field(default_factory=dict)
    clip_dn: Mapping[str, float] = field(default_factory=dict)
    headroom_ev: float | None = None
    scatter_ev: float = 0.0
    missing: tuple[Missing, ...] = ()
    darks_missing: int = 0

    @property
    def complete(self) -> bool:
        """Whether the plan wants nothing more of it."""
        return not self.missing and not self.darks_missing

    def holds(self, file: str) -> bool:
        """Return whether a frame is one of the label's."""
        return any(point.file == file for point in self.points)


@dataclass(frozen=True, kw_only=True)
class Wrong:
    """Something that should be mended while it can be; size in EV where it has one."""

    kind: WrongKind
    files: tuple[str, ...]
    size_ev: float = 0.0
    detail: str = ""


@dataclass(frozen=True, kw_only=True)
class Growing:
    """A series at one moment.

    latest: the frame that came last, "" before the first. waiting: files that are still being
    copied; held: whole ones that are too dark to tell where the patch lies. unread: lit frames
    without a reading; lacking: fields that neither file nor sheet gives, with the frames. caps:
    frames that are so dark that they are taken for lens-cap frames. planned: the ask names labels.
    """

    frames: int
    latest: str
    labels: tuple[GrowingLabel, ...]
    waiting: tuple[str, ...]
    held: tuple[str, ...]
    unread: tuple[str, ...]
    lacking: str
    caps: tuple[str, ...]
    wrong: tuple[Wrong, ...]
    planned: bool

    @property
    def complete(self) -> bool:
        """Whether the plan wants nothing more."""
        settled = not (self.unread or self.lacking or self.waiting or self.held)
        return settled and bool(self.labels) and all(label.complete for label in self.labels)
