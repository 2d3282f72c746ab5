"""A simulated calibration as an answer: what was found beside what is true."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from profiler.results import ProfileData
from profiler.show import words
from profiler.show.answer import Answer, Note, facts
from profiler.show.calibration.result import result_answer

NO_DOUBT = Note(text="No doubts.")


def lesson_answer(profile: ProfileData, true: Mapping[str, Any]) -> Answer:
    """Return the first result with headroom and offset, found and true, and whether they agree."""
    found = profile.results[0]
    offset, headroom = found.offset_ev, found.clip_headroom_ev
    inside = offset.low <= true["offset_ev"] <= offset.high
    verdict = f"{'inside' if inside else 'outside'} the 95 % interval"
    if headroom.lower_bound:
        verdict = "a lower bound, as clip was not seen"
    answer = result_answer(found)
    return replace(
        answer,
        topic="",
        figures=facts(
            [
                ("headroom found", words.plus_minus(headroom, "stops")),
                ("headroom true", f"{true['clip_headroom_ev']:.2f} stops"),
                ("offset found", f"{words.signed(offset)} EV"),
                ("offset true", f"{true['offset_ev']:+.2f} EV"),
                ("found less true", f"{offset.value - true['offset_ev']:+.2f} EV: {verdict}"),
                ("frame scatter", f"{found.frame_scatter_ev:.3f} EV"),
            ]
        ),
        tables=(),
        rows=(),
        notes=answer.notes if answer.notes or answer.missing else (NO_DOUBT,),
    )


def refused_answer(why: str, true: Mapping[str, Any]) -> Answer:
    """Return why nothing was found, with what is true."""
    return Answer(
        headline=why,
        figures=facts(
            [
                ("headroom true", f"{true['clip_headroom_ev']:.2f} stops"),
                ("offset true", f"{true['offset_ev']:+.2f} EV"),
            ]
        ),
    )
