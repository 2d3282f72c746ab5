"""The examples in the docstrings hold; `profile` in them is a small calibrated body."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import profiler.onset

MODULES = sorted(
    f"profiler.onset.{each.name}" for each in pkgutil.iter_modules(profiler.onset.__path__)
)
MODULES += ["profiler.show.scale_layout"]
WITH_EXAMPLES = {
    "bands",
    "camera",
    "corrections",
    "guards",
    "metered",
    "plan_frames",
    "profile",
    "scale_layout",
    "scene",
}


@pytest.mark.parametrize("name", MODULES)
def test_examples(name, profile):
    result = doctest.testmod(importlib.import_module(name), extraglobs={"profile": profile})
    assert result.failed == 0
    assert (result.attempted > 0) is (name.rpartition(".")[2] in WITH_EXAMPLES)
