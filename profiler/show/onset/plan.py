"""A plan in words: what it is worth first, then the shooting list."""

from __future__ import annotations

from collections.abc import Sequence

from profiler.exposure.modes import is_flash
from profiler.onset.plan import Plan
from profiler.onset.plan_labels import LabelPlan, PlanFrame
from profiler.show.onset.text import facts, number, table

CAUTIONS = {
    "daylight": "Never look at the sun through a finder or a long lens, nor point a lens at it: "
    "it burns eyes and sensors.",
    "tungsten": "Lamps, stands and barn doors get hot enough to burn: let them cool, keep cloth "
    "and paper away.",
    "flash": "The capacitors of a flash hold a dangerous charge even when it is switched off: "
    "leave housings closed.",
    "mains": "Lamps on the mains: no damaged cables, no wet hands, no overloaded circuit.",
    "closing": "Local codes and qualified people have the last word on rigging and electricity.",
}
_MAINS_LIGHTS = ("tungsten", "led", "fluorescent")


def plan_words(plan: Plan) -> str:
    """Return the promise in one line, the light, the list per label, warnings, cautions."""
    lines = [headline(plan), "", *facts(plan_rows(plan)), ""]
    for label in plan.labels:
        lines += [*label_lines(label, plan), ""]
    lines += [f"  ! {text}" for text in plan.warnings]
    lines += ["", *how_to(plan), "", *cautions(plan)]
    return "\n".join(lines)


def headline(plan: Plan) -> str:
    """Return how many frames, how long, what they are worth."""
    minutes = max(1, round(plan.minutes))
    count = f"{plan.frame_count} frames, about {minutes} min"
    if plan.half_ev is None:
        return f"{count}: too few on the straight part to promise anything."
    return f"{count}: the offset will be known to ± {plan.half_ev:.2f} stop (95 %)."


def plan_rows(plan: Plan) -> list[tuple[str, str]]:
    """Return light, aperture, time limits and what makes up the uncertainty."""
    clip = plan.expected
    return [
        ("target", f"grey card, {plan.mode} reading, {plan.light}"),
        ("light", light_words(plan)),
        ("camera", f"{plan.aperture.label} throughout, {by_words(plan)}; raw, lossless, one drive"),
        (
            "clip expected",
            f"{clip.headroom_ev:.1f} ± {clip.doubt_ev:.1f} stops over the metered grey, "
            f"from {clip.basis}",
        ),
        ("uncertainty", budget_words(plan)),
    ]


def light_words(plan: Plan) -> str:
    """Return the light to work in."""
    if plan.reading:
        return f"{plan.reading} (EV {plan.ev100:.1f} at ISO 100)"
    if is_flash(plan.mode):
        return "flash, changed from frame to frame as the list says"
    if plan.light_low_ev100 <= plan.light_high_ev100:
        window = f"{plan.light_low_ev100:.1f} to {plan.light_high_ev100:.1f} will do"
    else:
        window = f"from {plan.light_low_ev100:.1f} up clip is reached"
    return (
        f"bring it to EV {plan.ev100:.1f} at ISO 100 ({window}); then plan again with the reading"
    )


def by_words(plan: Plan) -> str:
    """Return what the bracket is made by."""
    if is_flash(plan.mode):
        return "bracketed by the flash"
    mains = f", free of {plan.mains_hz:g} Hz flicker" if plan.mains_hz > 0.0 else ""
    return f"bracketed by time{mains}"


def budget_words(plan: Plan) -> str:
    """Return the rows of the budget with what they add, largest first."""
    rows = sorted(plan.budget, key=lambda row: -row.contribution_ev)
    shown = [
        f"{row.source} {row.contribution_ev:.3f}" for row in rows if row.contribution_ev > 5e-4
    ]
    return f"{', '.join(shown)} EV (standard uncertainties)" if shown else "not known"


def label_lines(label: LabelPlan, plan: Plan) -> list[str]:
    """Return the frames of one label as a table."""
    rows = [frame_head(plan), *(frame_cells(frame, plan) for frame in label.frames)]
    return [f"ISO {label.iso}", *table(rows, left=0)]


def frame_head(plan: Plan) -> Sequence[str]:
    """Return the column names of the list."""
    shows = ("meter shows",) if is_flash(plan.mode) else ()
    return ("time", "aperture", *shows, "EV over grey", "frames", "")


def frame_cells(frame: PlanFrame, plan: Plan) -> Sequence[str]:
    """Return one row of the list."""
    shutter = frame.setting.shutter
    time = "" if shutter is None else shutter.label
    shows = (frame.meter_shows,) if is_flash(plan.mode) else ()
    if frame.placement_ev is None:
        return (time, frame.setting.aperture.label, *shows, "", str(frame.copies), "lens cap on")
    over = frame.placement_ev - plan.expected.headroom_ev
    note = "over clip" if over > plan.expected.doubt_ev else ""
    if not note and abs(over) <= plan.expected.doubt_ev:
        note = "clip may lie here"
    placement = number(frame.placement_ev, 1)
    placement = placement if placement.startswith("-") else f"+{placement}"
    return (time, frame.setting.aperture.label, *shows, placement, str(frame.copies), note)


def how_to(plan: Plan) -> list[str]:
    """Return how to go about it, one step a line."""
    read = (
        "Read the flash for every frame, and note what the meter shows."
        if is_flash(plan.mode)
        else "Read the meter before the first and after the last frame, at the card."
    )
    return [
        "1. Fill the middle of the frame with an evenly lit grey card; focus at infinity; hood on.",
        f"2. {read} No compensation on the meter.",
        "3. Shoot the list, each row as often as it says, nothing changed but what it names.",
        "4. Lens-cap frames last. Copy all raw files into one folder.",
        "5. greytare measure FOLDER --new-sheet FOLDER/sheet.csv lists the files: fill in the "
        "reading, write dark for the lens-cap frames.",
        "6. greytare fit FOLDER --out BODY.profile.json --light " + plan.light,
    ]


def cautions(plan: Plan) -> list[str]:
    """Return the cautions that the light calls for."""
    names: list[str] = [name for name in ("daylight", "tungsten", "flash") if name == plan.light]
    if plan.light in _MAINS_LIGHTS or plan.light == "flash":
        names.append("mains")
    return [CAUTIONS[name] for name in [*names, "closing"]]
