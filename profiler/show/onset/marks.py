"""What the pictures of on-set answers show: the scale of a scene, the dial around a setting."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from profiler.exposure.marks import F_SCALE, TIME_SCALE, StopStep
from profiler.onset.camera import CameraSetting
from profiler.show import words
from profiler.show.channels import colour_name
from profiler.show.marks import Kind, Mark, Scale, Spot, Step, Strip

if TYPE_CHECKING:
    from profiler.onset.place import Placed
    from profiler.onset.placement import Landing

_ALIKE_EV: Final = 0.05
_EXPOSURE: Final = {"aim": "key put on the aim", "meter": "as the meter asks for the key"}


def scale_of(placed: Placed, said: str) -> Scale:
    """Return the scale of a scene; said: its headline, for those who can't see it."""
    spots = placed.landings
    floors = placed.floor_below_clip_ev
    low, high = _reach(placed, spots)
    setting = placed.given.setting
    exposure = setting.label if setting is not None else _EXPOSURE[placed.given.rule]
    linear = placed.linear_below_clip_ev
    return Scale(
        title=f"Scale of stops at ISO {placed.iso}. {said}",
        heading=f"ISO {placed.iso}, {placed.light}",
        subtitle=f"{exposure}; bars are 95 % intervals, for spots as neutral as the grey card",
        low=low,
        high=high,
        floor10=-floors["10"] if "10" in floors else None,
        floor1=-floors["1"] if "1" in floors else None,
        linear=None if linear is None else -linear,
        marks=tuple(_marks(placed, spots)),
        spots=tuple(_spot(each) for each in spots),
    )


def _reach(placed: Placed, spots: list[Landing]) -> tuple[float, float]:
    """The lowest and highest stop over clip that the scale shows."""
    heights = [-spot.below_clip_ev.low for spot in spots]
    depths = [-spot.below_clip_ev.high for spot in spots]
    floors = [-value for value in placed.floor_below_clip_ev.values()] or [-8.0]
    top = max([*heights, *placed.channel_clip_ev.values(), 0.0]) + 0.8
    bottom = min([*depths, min(floors), -placed.aim_stops]) - 0.8
    return bottom, top


def _marks(placed: Placed, spots: list[Landing]) -> list[Mark]:
    """Clip of each channel, aim, metered grey, floor, end of the straight line."""
    marks = [*_clips(placed), *_greys(placed, spots)]
    floors = placed.floor_below_clip_ev
    if "10" in floors:
        marks.append(Mark(at=-floors["10"], text="floor, SNR 10"))
        marks.append(Mark(at=-floors["1"], text="SNR 1"))
    if placed.linear_below_clip_ev is not None:
        marks.append(Mark(at=-placed.linear_below_clip_ev, text="straight line ends"))
    return marks


def _clips(placed: Placed) -> list[Mark]:
    """Clips of the channels; greens that agree and channels that clip together share a name."""
    least = "" if placed.clip_seen else " at least"
    found: dict[float, list[str]] = {}
    for name, over in sorted(placed.channel_clip_ev.items(), key=lambda item: item[1]):
        at = next((known for known in found if abs(known - over) < _ALIKE_EV), over)
        found.setdefault(at, []).append(colour_name(name))
    marks = []
    for at, names in found.items():
        colours = list(dict.fromkeys(names))
        verb = "clip" if len(colours) > 1 else "clips"
        text = f"{' and '.join(colours)} {verb}{least}"
        marks.append(Mark(at=at, text=text, strong=at == 0.0))
    return marks


def _greys(placed: Placed, spots: list[Landing]) -> list[Mark]:
    """The aim, and where the meter alone would put the grey."""
    aim = -placed.aim_stops
    landing = placed.key or (spots[0] if spots else None)
    if landing is None:
        return [Mark(at=aim, text="aim")]
    metered = -(landing.below_clip_ev.value + landing.placement_ev)
    if abs(metered - aim) < _ALIKE_EV:
        return [Mark(at=aim, text="aim, metered grey")]
    return [Mark(at=aim, text="aim"), Mark(at=metered, text="metered grey")]


def _spot(spot: Landing) -> Spot:
    kind, verdict = _kind(spot)
    return Spot(
        name=spot.name,
        at=-spot.below_clip_ev.value,
        low=-spot.below_clip_ev.high,
        high=-spot.below_clip_ev.low,
        kind=kind,
        height=words.with_sign(0.0 - spot.below_clip_ev.value),
        verdict=verdict,
    )


def _kind(spot: Landing) -> tuple[Kind, str]:
    """The shape of a spot's marker, and its verdict in words; none for a safe one."""
    words_of = {"safe": "", "below": "below SNR 10"}
    return spot.verdict, words_of.get(spot.verdict, spot.verdict)


_REACH_EV: Final = 1.4


def dial_strip(
    setting: CameraSetting, left_ev: float, rule: str, marks: StopStep, *, by_time: bool
) -> Strip | None:
    """Return the marks within a stop or so of the chosen one, more exposure to the right.

    by_time: the time was found, else the aperture. left_ev: exposure still to give. None where the
    setting is on no dial: a shutter angle, a time to be counted, a T-stop.
    """
    found = _times(setting, rule, marks) if by_time else _apertures(setting, marks)
    near = [step for step in found if abs(step.at) <= _REACH_EV]
    if not any(step.chosen for step in near):
        return None
    chosen = next(step.text for step in near if step.chosen)
    rest = words.amount(left_ev, "more", "less")
    said = "on the mark" if rest == "nothing" else rest
    return Strip(
        title=f"Dial around {chosen}; the exact setting: {said}",
        low=min(-0.3, left_ev, *(step.at for step in near)),
        high=max(0.3, left_ev, *(step.at for step in near)),
        steps=tuple(near),
        wanted=left_ev,
        rest=said,
    )


def _times(setting: CameraSetting, rule: str, marks: StopStep) -> list[Step]:
    shutter = setting.shutter
    if shutter is None or shutter.angle_deg is not None or shutter.is_counted:
        return []
    start = shutter.seconds(rule, marks)
    steps = []
    for (marked, *_), exact in TIME_SCALE[marks]:
        seconds = exact if rule == "exact" else marked
        text = f"{marked:g} s" if marked > 0.29 else f"1/{round(1.0 / marked)}"
        at = math.log2(seconds / start)
        steps.append(Step(at=at, text=text, chosen=abs(at) < 0.02))
    return steps


def _apertures(setting: CameraSetting, marks: StopStep) -> list[Step]:
    aperture = setting.aperture
    if aperture.word != "f":
        return []
    start = aperture.exact(marks)
    steps = []
    for (marked, *_), exact in F_SCALE[marks]:
        at = 2.0 * math.log2(start / exact)
        steps.append(Step(at=at, text=f"f/{marked:g}", chosen=abs(at) < 0.02))
    return steps
