"""What the vertical scale of a placed scene shows; drawn by whoever shows it."""

from __future__ import annotations

from typing import Final

from profiler.onset.place import Placed
from profiler.onset.placement import Landing
from profiler.show import words
from profiler.show.channels import colour_name
from profiler.show.marks import Kind, Mark, Scale, Spot

_ALIKE_EV: Final = 0.05
_EXPOSURE: Final = {"aim": "key put on the aim", "meter": "as the meter asks for the key"}


def scale_of(placed: Placed, said: str) -> Scale:
    """Return the scale of a scene; said: its headline, for those who can't see it."""
    spots = [*placed.spots, *([] if placed.key is None else [placed.key])]
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
