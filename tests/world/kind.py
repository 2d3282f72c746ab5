"""What sets one kind of calibration apart, and the calibration that comes of it with a seed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from profiler.files.sheet import Sheet
from profiler.records import Measurement

from .habits import Draw, logistic

BRACKET = (-6.0, -5.0, -4.0, -3.0, -2.0, -1.3, -0.7, 1.0, 2.0)


@dataclass(frozen=True, kw_only=True)
class World:
    """One kind of calibration. Everything that isn't named is drawn anew for each seed.

    bracket: stops from clip at which frames are wanted; repeats: frames of each; thirds: times fall
    on third-stop marks; rule: what the shutter aims at behind a mark ("exact", "marked").
    frame_error: of each frame; time_error: one a shutter time, shared by its repeats; label_scale:
    factors on frame_error, one a label. readings: "one", "before and after", "two at once",
    "each frame". drift_ev: limit of the light's change from first to last frame, in a part
    drift_share of the calibrations; wander_ev: of its
    way about. display: the meter's; told_step_ev: its step where the meter's file says it.
    tag_error_dn: of the black tag; darks: lens-cap frames a label.
    slips: frames whose time is typed wrong. few: frames left, a range, 0 for all.
    headroom_ev: usual stops from the metered grey to clip.
    truly: flags that are no false alarm in this world. fault: flags that are owed, in at least
    least_found of the calibrations; judges_rule: found means the right rule of times, or its doubt
    said. why: what a share outside the wanted range
    comes from.
    """

    name: str
    labels: tuple[int, ...] = (400,)
    bracket: tuple[float, ...] = BRACKET
    repeats: int = 1
    thirds: bool = False
    rule: str = "exact"
    frame_error: Draw = field(default_factory=lambda: logistic(0.04))
    time_error: Draw | None = None
    label_scale: tuple[float, ...] = ()
    readings: str = "one"
    drift_ev: float = 0.3
    drift_share: float = 0.1
    wander_ev: float = 0.0
    display: str = "EV tenths"
    told_step_ev: float = 0.0
    mode: str = "spot"
    bits: int = 14
    nonlinear: float = 0.0
    bell_dn: float = 0.0
    one_channel: bool = False
    tag_error_dn: float = 0.0
    darks: int = 2
    slips: int = 0
    few: tuple[int, int] = (0, 0)
    headroom_ev: float = 3.2
    truly: tuple[str, ...] = ()
    fault: tuple[str, ...] = ()
    judges_rule: bool = False
    least_found: float = 0.9
    efficiency: float = 0.0
    why: str = ""


@dataclass(frozen=True, kw_only=True)
class Series:
    """A calibration as the program gets it, with what only its maker knows.

    headroom_ev: label -> true stops to clip of the first channel, on the scale of the meter's mean
    reading. given_ev: what reading, iris at its mark and card add to any fit of these frames, so
    that the fit alone can be judged (None where it differs between frames).
    frame_error_ev: file -> how much more light a frame got than its row says, the drift left out.
    slips: files typed wrong. drift_ev: change of the light that the readings can't tell.
    iris_ev: how much more light the iris let in than its mark says, through the whole series.
    uneven_ev: standard deviation, in the worst label, of what frames got too much, drift and all.
    """

    measurement: Measurement
    sheet: Sheet
    headroom_ev: Mapping[int, float]
    given_ev: float | None
    frame_error_ev: Mapping[str, float]
    slips: frozenset[str]
    drift_ev: float
    iris_ev: float
    uneven_ev: float
