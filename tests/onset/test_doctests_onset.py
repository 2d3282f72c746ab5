"""The examples in the docstrings hold; `profile` in them is a small calibrated body."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import profiler.onset

MODULES = sorted(
    each.name for each in pkgutil.walk_packages(profiler.onset.__path__, "profiler.onset.")
)
MODULES += ["profiler.show.onset.scale"]
WITH_EXAMPLES = {
    "profiler.onset.aperture",
    "profiler.onset.camera",
    "profiler.onset.corrections",
    "profiler.onset.guards",
    "profiler.onset.metered",
    "profiler.onset.placement",
    "profiler.onset.times",
    "profiler.onset.plan_frames",
    "profiler.onset.profile",
    "profiler.show.onset.scale",
}


@pytest.mark.parametrize("name", MODULES)
def test_examples(name, profile):
    result = doctest.testmod(importlib.import_module(name), extraglobs={"profile": profile})
    assert result.failed == 0
    assert (result.attempted > 0) is (name in WITH_EXAMPLES)
