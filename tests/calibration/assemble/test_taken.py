"""The time of shooting is that of the first frame that tells one, whenever the fit was made."""

from __future__ import annotations

from dataclasses import replace

from profiler import simulate
from profiler.calibration.assemble.identity import taken
from profiler.records import Tag
from profiler.simulate.memory import measure_in_memory


def test_the_first_time_that_a_frame_tells_counts():
    plan = simulate.standard_series(simulate.load_body("halden-h2"), 1, labels=(400,))
    measurement, _ = measure_in_memory(plan, 0.6)

    def shot(*times: str | None) -> str:
        frames = []
        for frame, time in zip(measurement.frames, times, strict=False):
            tag = None if time is None else Tag(value=time, source="invented")
            frames.append(replace(frame, tags=replace(frame.tags, taken_at=tag)))
        return taken(frames)

    assert shot("2026-03-02T09:00:01", "2026-03-01T23:59:00", None) == "2026-03-01T23:59:00"
    assert shot("2026-03-02T09:00:01+02:00", "once", "") == "2026-03-02T09:00:01"
    assert shot(None, "0000:00:00 00:00:00") == ""
