"""Clip that is a bell: found, or a bound below it, from simulated files' records."""

from __future__ import annotations

import pytest

from profiler import simulate
from profiler.calibration import pipeline
from profiler.simulate.memory import measure_in_memory
from profiler.simulate.truth import result as true_result


@pytest.mark.parametrize("seed", [8, 101, 111])
@pytest.mark.parametrize("size_dn", [6.0, 12.0, 60.0])
def test_a_bell_is_never_taken_for_signal(seed, size_dn):
    spec = simulate.standard_series(
        simulate.load_body("halden-h2"), seed, size=(96, 96), shutter_scatter_ev=0.05
    )
    spec = simulate.FAULTS["clip-bell"].apply(spec, size_dn)
    for found in pipeline.fit(*measure_in_memory(spec)).results:
        truth = true_result(spec, found.iso, found.mode)
        headroom = found.clip_headroom_ev
        assert headroom.low <= truth["clip_headroom_ev"] <= headroom.high
        assert not headroom.lower_bound
        names = {flag.name for flag in found.flags}
        assert "clip-smeared" in names
        assert not names & {"slip", "bends-before-clip", "clip-not-seen", "uneven-exposures"}
