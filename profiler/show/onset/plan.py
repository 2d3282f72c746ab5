"""A plan as an answer: what it is worth first, then the shooting list."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from profiler.calibration.fit.budget import coverage_factor
from profiler.exposure.modes import is_flash
from profiler.onset.plan import Plan
from profiler.onset.plan_labels import LabelPlan, PlanFrame
from profiler.results import METER_SOURCES
from profiler.show import words
from profiler.show.answer import Answer, Note, Table, facts
from profiler.show.calibration.bars import high, low
from profiler.show.doubts import coarse_notes
from profiler.show.marks import Bar, Bars, Picture
from profiler.show.sources import source_words

CAUTIONS: Final = {
    "daylight": "Never look at the sun through a finder or a long lens, nor point a lens at it: "
    "it burns eyes and sensors.",
    "tungsten": "Lamps, stands and barn doors get hot enough to burn: let them cool, keep cloth "
    "and paper away.",
    "flash": "The capacitors of a flash hold a dangerous charge even when it is switched off: "
    "leave housings closed.",
    "mains": "Lamps on the mains: no damaged cables, no wet hands, no overloaded circuit.",
    "closing": "Local codes and qualified people have the last word on rigging and electricity.",
}
_MAINS_LIGHTS: Final = ("tungsten", "led", "fluorescent")


def plan_answer(plan: Plan, then: Sequence[str] = ()) -> Answer:
    """Return the promise, the light, the list per label, what falls short, how to go about it.

    then: the steps at the computer, as a front end does them.
    """
    return Answer(
        headline=headline(plan),
        figures=facts(_figures(plan)),
        tables=tuple(_table(label, plan) for label in plan.labels),
        notes=(
            *coarse_notes([plan.coarse]),
            *(Note(text=text, warns=True) for text in (*_in_the_way(plan), *plan.warnings)),
        ),
        steps=(*_steps(plan), *then),
        closing=_cautions(plan),
        pictures=_pictures(plan),
    )


def _pictures(plan: Plan) -> tuple[Picture, ...]:
    """The planned frames as ticks between the metered grey and where clip is expected."""
    clip = plan.expected
    bars = tuple(
        Bar(
            name=f"ISO {label.iso}",
            text=words.count(len(ticks), "exposure"),
            floor=min(ticks),
            clip=clip.headroom_ev,
            clip_low=clip.headroom_ev - clip.doubt_ev,
            clip_high=clip.headroom_ev + clip.doubt_ev,
            at_least=False,
            aim=None,
            ticks=ticks,
        )
        for label in plan.labels
        if (ticks := tuple(f.placement_ev for f in label.frames if f.placement_ev is not None))
    )
    if not bars:
        return ()
    said = f"clip expected {clip.headroom_ev:.1f} \u00b1 {clip.doubt_ev:.1f} stops over the grey"
    title = f"Planned frames in stops over the metered grey; {said}"
    return (Bars(title=title, low=low(bars), high=high(bars), bars=bars),)


def headline(plan: Plan) -> str:
    """Return how many frames, how long, what they are worth."""
    minutes = max(1, round(plan.minutes))
    count = f"{words.count(plan.frame_count, 'frame')}, about {minutes} min"
    if plan.half_ev is None:
        return f"{count}: too few on the straight part to promise anything."
    here = ""
    if plan.here_half_ev is not None and f"{plan.here_half_ev:.2f}" != f"{plan.half_ev:.2f}":
        here = f", ± {plan.here_half_ev:.2f} at {plan.aperture.label} alone"
    known = f"the offset will be known to ± {plan.half_ev:.2f} stop (95 %){here}"
    goal = plan.goal
    if goal is None:
        return f"{count}: {known}."
    if not goal.reached:
        return f"± {goal.wanted_ev:g} stop can't be reached so; the best is {count}: {known}."
    where = f" at {plan.aperture.label} alone" if goal.here else ""
    return f"The cheapest plan for ± {goal.wanted_ev:g} stop{where} is {count}: {known}."


def _figures(plan: Plan) -> list[tuple[str, str]]:
    """Return light, aperture, time limits and what makes up the uncertainty."""
    clip = plan.expected
    return [
        ("target", f"grey card, {plan.mode} reading, {plan.light}"),
        ("readings", _readings(plan)),
        ("light", _light(plan)),
        (
            "camera",
            f"{plan.aperture.label} throughout, {_bracketed(plan)}; raw, lossless, one drive"
            + (", electronic shutter" if plan.electronic else ""),
        ),
        (
            "clip expected",
            f"{clip.headroom_ev:.1f} ± {clip.doubt_ev:.1f} stops over the metered grey, "
            f"from {clip.basis}",
        ),
        ("uncertainty", _budget(plan)),
    ]


def _readings(plan: Plan) -> str:
    """Return how many readings of a steady light there are; empty for flash."""
    if is_flash(plan.mode):
        return ""
    before = plan.readings_before
    after = plan.readings - before
    return f"{before} before the frames" + (f", {after} after them" if after else "")


def _light(plan: Plan) -> str:
    """Return the light to work in."""
    if plan.reading:
        same = f"EV {plan.ev100:.1f}"
        return plan.reading if plan.reading == same else f"{plan.reading} ({same} at ISO 100)"
    if is_flash(plan.mode):
        return "flash, changed from frame to frame as the list says"
    if plan.light_low_ev100 <= plan.light_high_ev100:
        window = f"{plan.light_low_ev100:.1f} to {plan.light_high_ev100:.1f} will do"
    else:
        window = f"from {plan.light_low_ev100:.1f} up clip is reached"
    return (
        f"bring it to EV {plan.ev100:.1f} at ISO 100 ({window}); then plan again with the reading"
    )


def _bracketed(plan: Plan) -> str:
    """Return what the bracket is made by."""
    if is_flash(plan.mode):
        return "bracketed by the flash"
    mains = f", free of {plan.mains_hz:g} Hz flicker" if plan.mains_hz > 0.0 else ""
    return f"bracketed by time{mains}"


def _budget(plan: Plan) -> str:
    """Return the rows of the budget with what they add, largest first."""
    rows = sorted(plan.budget, key=lambda row: -row.contribution_ev)
    shown = [
        f"{source_words(row.source)} {row.contribution_ev:.3f}"
        for row in rows
        if row.contribution_ev > 5e-4
    ]
    return f"{', '.join(shown)} EV (standard uncertainties)" if shown else words.UNKNOWN


def _in_the_way(plan: Plan) -> list[str]:
    """Return what keeps a plan from its goal, each with half the interval that it alone makes."""
    goal = plan.goal
    if goal is None or goal.reached:
        return []
    factor = coverage_factor(math.inf)
    rows = words.listed(
        [f"{source_words(r.source)} (± {factor * r.contribution_ev:.2f})" for r in goal.obstacles]
    )
    found = [f"In the way of ± {goal.wanted_ev:g} stop stands {rows}."]
    if goal.spot_half_ev is not None:
        found.append(f"Read by spot the same plan reaches ± {goal.spot_half_ev:.2f} stop.")
    if any(row.source in METER_SOURCES for row in goal.obstacles):
        found.append(
            "The meter's figures may be better than assumed: measure its repeatability, and let it "
            "show smaller steps (hundredths of EV, or lx and cd/m2 in three figures)."
        )
    return found


def _table(label: LabelPlan, plan: Plan) -> Table:
    """The frames of one label."""
    shows = ("meter shows",) if is_flash(plan.mode) else ()
    head = ("time", "aperture", *shows, "EV over grey", "frames", "note")
    return Table(
        caption=f"ISO {label.iso}",
        head=head,
        rows=tuple(_cells(frame, plan) for frame in label.frames),
        numbers=(len(head) - 3, len(head) - 2),
    )


def _cells(frame: PlanFrame, plan: Plan) -> tuple[str, ...]:
    shutter = frame.setting.shutter
    time = "" if shutter is None else shutter.label
    shows = (frame.meter_shows,) if is_flash(plan.mode) else ()
    start = (time, frame.setting.aperture.label, *shows)
    if frame.placement_ev is None:
        return (*start, "", str(frame.copies), "lens cap on")
    over = frame.placement_ev - plan.expected.headroom_ev
    note = "over clip" if over > plan.expected.doubt_ev else ""
    if not note and abs(over) <= plan.expected.doubt_ev:
        note = "clip may lie here"
    return (*start, words.with_sign(frame.placement_ev), str(frame.copies), note)


def _steps(plan: Plan) -> tuple[str, ...]:
    """What to do at the camera."""
    shutter = " Set the electronic shutter." if plan.electronic else ""
    return (
        "Fill the middle of the frame with an evenly lit grey card; focus at infinity; hood on.",
        f"{_read(plan)} No compensation on the meter.{shutter}",
        "Shoot the list, each row as often as it says, nothing changed but what it names.",
        "Lens-cap frames last. Copy all raw files into one folder.",
    )


def _read(plan: Plan) -> str:
    """When to read the meter, and how often."""
    if is_flash(plan.mode):
        return "Read the flash for every frame, and note what the meter shows."
    if plan.readings == 1:
        return "Read the meter once, before the first frame, at the card."
    before = plan.readings_before
    after = plan.readings - before
    if (before, after) == (1, 1):
        return "Read the meter before the first and after the last frame, at the card."
    return (
        f"Read the meter {plan.readings} times at the card, lifted and pointed anew each time: "
        f"{before} before the first frame, {after} after the last."
    )


def _cautions(plan: Plan) -> tuple[str, ...]:
    """Return the cautions that the light calls for."""
    names: list[str] = [name for name in ("daylight", "tungsten", "flash") if name == plan.light]
    if plan.light in _MAINS_LIGHTS or plan.light == "flash":
        names.append("mains")
    return tuple(CAUTIONS[name] for name in (*names, "closing"))
