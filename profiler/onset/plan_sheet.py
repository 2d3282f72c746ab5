"""The empty sheet that goes with a plan."""

from __future__ import annotations

from profiler.exposure.modes import is_flash
from profiler.files.sheet import EVERY_FILE, new_sheet
from profiler.onset.plan import Plan


def plan_sheet(plan: Plan) -> str:
    """Return the text of a sheet to be filled in: readings before and after, for every file.

    File names aren't known before the frames are shot; lens-cap frames get a row each then.
    """
    if is_flash(plan.mode):
        note = "flash is read for each frame: one row per file, as the list says"
        return new_sheet([{"file": EVERY_FILE, "mode": plan.mode, "note": note}])
    notes = [
        f"reading {i + 1} of {plan.readings}, "
        + ("before the first frame" if i < before_count(plan) else "after the last frame")
        for i in range(plan.readings)
    ]
    rows = [{"file": EVERY_FILE, "mode": plan.mode, "note": note} for note in notes]
    rows[0]["reading"] = plan.reading
    return new_sheet(rows)


def before_count(plan: Plan) -> int:
    """Return how many of a plan's readings come before the first frame: half, or one more."""
    return (plan.readings + 1) // 2
