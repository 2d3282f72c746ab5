"""What rounding leaves over is said in the right direction, wherever it is acted on."""

from __future__ import annotations

from dataclasses import replace

import pytest

from profiler.exposure.stops import exact_iso
from profiler.onset.dial import dial
from profiler.onset.guards import _far
from profiler.show.meter import ei_cell


@pytest.mark.parametrize(
    ("off_mark_ev", "said"), [(0.12, "0.1 stop more"), (-0.12, "0.1 stop less")]
)
def test_the_rest_beside_an_ei_mark(kept, off_mark_ev, said):
    """A meter set to a mark above the exact EI asks for too little: give more, and the reverse."""
    result = kept.results[1]
    # moved so that the exact EI lies so many stops below a mark
    at_mark = dial(result, result.aim_stops)
    shift = at_mark.ei_left_ev - off_mark_ev
    value = result.offset_ev.value - shift
    offset = replace(result.offset_ev, value=value, low=value - 0.02, high=value + 0.02)
    headroom = result.clip_headroom_ev
    moved = headroom.value - shift
    result = replace(
        result,
        offset_ev=offset,
        clip_headroom_ev=replace(headroom, value=moved, low=moved - 0.02, high=moved + 0.02),
    )
    found = dial(result, result.aim_stops)
    assert (found.ei.value < exact_iso(found.ei_mark)) is (off_mark_ev > 0.0)
    _, rest = ei_cell(found)
    assert rest == f"and give {said} on top"


@pytest.mark.parametrize(
    ("left_ev", "start"),
    [
        (2.5, "2.5 stops too little light: open up"),
        (-2.5, "2.5 stops too much light: close down"),
    ],
)
def test_far_from_the_aim(left_ev, start):
    assert _far(left_ev).text.startswith(start)
