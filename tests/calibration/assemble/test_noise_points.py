"""From how many pairs a photon transfer is taken."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from profiler.calibration.assemble import noise


@pytest.mark.parametrize(("pairs", "from_pairs"), [(2, False), (3, True), (4, True)])
def test_three_pairs_are_enough(monkeypatch, pairs, from_pairs):
    point = noise.Point(mean_dn=700.0, variance_dn2=9.0, pixels=100)
    asked = {}

    def transfer(signal_dn, variance_dn2, pixels, span_dn, **more):
        asked.update(more, signal_dn=signal_dn, span_dn=span_dn)

    monkeypatch.setattr(noise, "pair_points", lambda _group, _name: [point] * pairs)
    monkeypatch.setattr(noise, "photon_transfer", transfer)
    fit = SimpleNamespace(
        channels=("G",),
        response=SimpleNamespace(black_dn=np.array([512.0])),
        clip=(SimpleNamespace(level_dn=4000.0),),
        bend=SimpleNamespace(begin=1.0),
    )
    noise.find_transfers(SimpleNamespace(frames=(), darks=()), fit)
    assert asked["from_pairs"] is from_pairs
    assert asked["span_dn"] == 3488.0
    assert list(asked["signal_dn"]) == [188.0] * (pairs if from_pairs else 0)
