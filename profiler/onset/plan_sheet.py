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
    rows = [
        {
            "file": EVERY_FILE,
            "reading": plan.reading,
            "mode": plan.mode,
            "note": "reading before the first frame",
        },
        {"file": EVERY_FILE, "mode": plan.mode, "note": "reading after the last frame"},
    ]
    return new_sheet(rows)
