"""The vertical scale of stops as plain numbers, for the script that draws it."""

from __future__ import annotations

from typing import Any

from profiler.onset.place import Placed
from profiler.onset.placement import Landing
from profiler.show.channels import colour_name
from profiler.show.onset.scale import alt_text, reach
from profiler.show.onset.text import number

_ALIKE_EV = 0.05


def scale_data(placed: Placed) -> dict[str, Any]:
    """Return what the scale shows, heights in stops over the first channel's clip.

    marks: lines with names at the left; spots: with their 95 % interval and kind at the right.
    """
    low, high = reach(placed)
    landings = [*placed.spots, *([] if placed.key is None else [placed.key])]
    floors = placed.floor_below_clip_ev
    return {
        "title": alt_text(placed),
        "low": low,
        "high": high,
        "floor10": -floors["10"] if "10" in floors else None,
        "floor1": -floors["1"] if "1" in floors else None,
        "linear": None if placed.linear_below_clip_ev is None else -placed.linear_below_clip_ev,
        "marks": _marks(placed),
        "spots": [_spot(each) for each in landings],
    }


def _marks(placed: Placed) -> list[dict[str, Any]]:
    least = "" if placed.clip_seen else " at least"
    clips: dict[float, list[str]] = {}
    for name, over in sorted(placed.channel_clip_ev.items(), key=lambda item: item[1]):
        at = next((known for known in clips if abs(known - over) < _ALIKE_EV), over)
        clips.setdefault(at, []).append(colour_name(name))
    marks = []
    for at, names in clips.items():
        words = list(dict.fromkeys(names))
        verb = "clip" if len(words) > 1 else "clips"
        marks.append((at, f"{' and '.join(words)} {verb}{least}"))
    marks += _grey_marks(placed)
    floors = placed.floor_below_clip_ev
    if "10" in floors:
        marks += [(-floors["10"], "floor, SNR 10"), (-floors["1"], "SNR 1")]
    if placed.linear_below_clip_ev is not None:
        marks.append((-placed.linear_below_clip_ev, "straight line ends"))
    return [{"at": at, "text": words, "strong": at == 0.0} for at, words in marks]


def _grey_marks(placed: Placed) -> list[tuple[float, str]]:
    aim = -placed.aim_stops
    landing = placed.key or (placed.spots[0] if placed.spots else None)
    if landing is None:
        return [(aim, "aim")]
    metered = -(landing.below_clip_ev.value + landing.placement_ev)
    if abs(metered - aim) < _ALIKE_EV:
        return [(aim, "aim, metered grey")]
    return [(aim, "aim"), (metered, "metered grey")]


def _spot(spot: Landing) -> dict[str, Any]:
    words: str = "" if spot.highlight == "safe" else spot.highlight
    if not words and spot.shadow in ("below", "in doubt"):
        words = "below SNR 10" if spot.shadow == "below" else "in doubt"
    over = number(0.0 - spot.below_clip_ev.value, 1)
    over = over if over.startswith("-") or float(over) == 0.0 else f"+{over}"
    return {
        "name": spot.name,
        "at": -spot.below_clip_ev.value,
        "low": -spot.below_clip_ev.high,
        "high": -spot.below_clip_ev.low,
        "kind": "below" if words == "below SNR 10" else words or "safe",
        "text": f"{over}{f' {words}' if words else ''}",
    }
