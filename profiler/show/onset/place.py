"""A placed scene in words: what is lost first, then each spot, then what the exposure may do."""

from __future__ import annotations

from collections.abc import Sequence

from profiler.exposure.stops import exact_time_s, nearest_time_mark
from profiler.onset.latitude import Latitude
from profiler.onset.place import AIM, METER, Given, Placed
from profiler.onset.placement import Landing
from profiler.show.onset.text import (
    INTERVALS,
    amount,
    colours,
    facts,
    guard_lines,
    margin,
    number,
    pooled,
    stops,
    table,
)

NEUTRAL = (
    "Distances to clip hold for a spot as neutral as the calibration's grey card; a strong colour "
    "clips one channel sooner."
)
_NO_CHANGE_EV = 0.05
DOUBT = "In doubt: its 95 % interval reaches across clip (or the floor)."


def placed_words(placed: Placed) -> str:
    """Return the answer in one line, the spots as a table, then the detail."""
    lines = [headline(placed), "", *spot_table(placed), ""]
    rows = [
        ("exposure", given_words(placed.given, placed.iso)),
        ("profile", f"ISO {placed.iso}, spots by {placed.spot_mode}, {placed.light}"),
    ]
    if placed.key is not None:
        rows.append(("key", f"{', '.join(placed.key.metered.texts)} by {placed.mode}"))
    rows += [("averaged", text) for text in averages(placed)]
    if placed.latitude is not None:
        rows += latitude_rows(placed.latitude, placed.given)
    lines += facts(rows)
    if placed.guards:
        lines += ["", *guard_lines(placed.guards)]
    return "\n".join([*lines, "", NEUTRAL, DOUBT, INTERVALS])


def headline(placed: Placed) -> str:
    """Return what is lost or in doubt, in one sentence."""
    spots = placed.spots or (() if placed.key is None else (placed.key,))
    parts = []
    for word, chosen in (
        ("clipped", [s for s in spots if s.highlight == "clipped"]),
        ("in doubt at clip", [s for s in spots if s.highlight == "in doubt"]),
        ("below the floor", [s for s in spots if s.shadow == "below"]),
        ("in doubt at the floor", [s for s in spots if s.shadow == "in doubt"]),
    ):
        if chosen:
            parts.append(f"{word}: {', '.join(s.name for s in chosen)}")
    top = min(spots, key=lambda spot: spot.below_clip_ev.value)
    where = f"{top.name} lands {stops(top.below_clip_ev, 'below clip', 'above clip')}"
    first = f"{colours([placed.first_to_clip])} first"
    if not parts:
        return f"Nothing is lost: {where}, {first}."
    text = "; ".join(parts)
    return f"{text[0].upper()}{text[1:]}. The brightest, {where}, {first}."


def spot_table(placed: Placed) -> list[str]:
    """Return key and spots as a table: distances in stops, verdict in words."""
    landings = [*placed.spots, *([] if placed.key is None else [placed.key])]
    names = list(pooled(landings[0].channels))
    head = ("spot", "EV at ISO 100", "from grey", *(f"{n} to clip" for n in names), "to SNR 10")
    rows: list[Sequence[str]] = [(*head, "verdict")]
    for spot in landings:
        channels = pooled(spot.channels)
        grey = "" if spot.above_grey_ev is None else _signed(spot.above_grey_ev.value)
        cells = [_cell(channels[name]) if name in channels else "" for name in names]
        floor = "" if spot.above_floor_ev is None else number(spot.above_floor_ev.value, 1)
        ev = f"{spot.metered.ev100:.1f}"
        rows.append((spot.name, ev, grey, *cells, floor, verdict_words(spot)))
    return table(rows)


def verdict_words(spot: Landing) -> str:
    """Return safe, in doubt or clipped with the channels; the floor where it matters."""
    words = "safe"
    if spot.clipped:
        words = f"clipped: {colours(spot.clipped)}"
        if spot.doubtful:
            words += f"; in doubt: {colours(spot.doubtful)}"
    elif spot.doubtful:
        words = f"in doubt: {colours(spot.doubtful)}"
    if spot.shadow == "below":
        words += "; below the floor (SNR 10)"
    elif spot.shadow == "in doubt":
        words += "; in doubt at the floor (SNR 10)"
    return f"{words} (± {_half(spot):.1f})"


def given_words(given: Given, iso: int) -> str:
    """Return the exposure in use."""
    if given.rule == AIM:
        return f"the key on the aim: EV {given.given_ev:.1f} at ISO {iso}, not rounded to marks"
    if given.rule == METER or given.setting is None:
        return f"as the meter asks for the key: EV {given.given_ev:.1f} at ISO {iso}"
    lost = "".join(f", {c.text} ({c.stops:.1f})" for c in given.corrections)
    return f"{given.setting.label}{lost}"


def averages(placed: Placed) -> list[str]:
    """Return both averages of every spot that was read more than once."""
    landings = [*placed.spots, *([] if placed.key is None else [placed.key])]
    return [
        f"{s.name} as {m.average}: as stops EV {m.as_stops_ev100:.1f}, as light EV "
        f"{m.as_light_ev100:.1f} ({len(m.texts)} readings)"
        for s in landings
        for m in (s.metered,)
        if len(m.texts) > 1
    ]


def latitude_rows(latitude: Latitude, given: Given) -> list[tuple[str, str]]:
    """Return what the exposure may do, and whether one frame holds the scene."""
    rows = []
    most, least = latitude.most_ev, latitude.least_ev
    if most is not None:
        clip = f"clips at {_plus_minus(most.value, margin(most))}"
        if most.low < -_NO_CHANGE_EV:
            text = f"asks for {change(most.low)} to be safe ({clip})"
        else:
            text = f"is safe up to {change(most.low)} ({clip})"
        rows.append((f"{latitude.highlight}, at clip", text))
    if least is not None:
        floor = f"reaches it at {_plus_minus(least.value, margin(least))}"
        if least.high > _NO_CHANGE_EV:
            text = f"asks for {change(least.high)} to be safe ({floor})"
        else:
            text = f"is safe down to {change(least.high)} ({floor})"
        rows.append((f"{latitude.shadow}, at SNR 10", text))
    if latitude.contrast_ev is not None and latitude.range_ev is not None:
        rows.append(
            (
                "contrast",
                f"{margin(latitude.contrast_ev)} stops from brightest to darkest spot; this body "
                f"holds {margin(latitude.range_ev)} from SNR 10 to clip",
            )
        )
    if latitude.one_frame:
        shift = latitude.shift_ev
        unmoved = "as it is" if abs(shift) < 0.05 else f"with {amount(shift)}"
        rows.append(("one frame", f"holds it, {unmoved}"))
    elif latitude.one_frame is False:
        rows.append(("one frame", f"can't hold both; {bracket_words(latitude, given)}"))
    return rows


def bracket_words(latitude: Latitude, given: Given) -> str:
    """Return the bracket that holds the scene, as times too where the setting is known."""
    shifts = latitude.bracket_ev
    if not shifts:
        return "no bracket was found"
    words = ", ".join(_signed(shift) for shift in shifts)
    text = f"a bracket of {len(shifts)} does: {words} stops from this exposure"
    shutter = None if given.setting is None else given.setting.shutter
    if shutter is not None and shutter.angle_deg is None:
        start = exact_time_s(shutter.marked_s)
        marks = [nearest_time_mark(start * 2.0**shift).label for shift in shifts]
        text += f" ({', '.join(marks)})"
    return text


def change(ev: float) -> str:
    """Return a change of exposure in words: `0.4 stop more`, `no change`."""
    words = amount(ev)
    return "no change" if words == "nothing" else words


def _cell(distance: object) -> str:
    value = getattr(distance, "value", 0.0)
    bound = ">= " if getattr(distance, "lower_bound", False) else ""
    return f"{bound}{number(value, 1)}"


def _signed(value: float) -> str:
    text = number(value, 1)
    return text if text.startswith("-") or float(text) == 0.0 else f"+{text}"


def _plus_minus(value: float, size: str) -> str:
    return f"{'+' if value >= 0.0 else '-'}{size}"


def _half(spot: Landing) -> float:
    return max(0.5 * (spot.below_clip_ev.high - spot.below_clip_ev.low), 0.1)
