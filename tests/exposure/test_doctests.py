"""The examples in the docstrings hold."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import profiler.exposure

MODULES = sorted(
    f"profiler.exposure.{each.name}" for each in pkgutil.iter_modules(profiler.exposure.__path__)
)
WITHOUT_EXAMPLES = {"profiler.exposure.marks"}


@pytest.mark.parametrize("name", MODULES)
def test_examples(name: str) -> None:
    result = doctest.testmod(importlib.import_module(name))
    assert result.failed == 0
    assert (result.attempted > 0) is (name not in WITHOUT_EXAMPLES)


def test_modules_are_found() -> None:
    assert len(MODULES) >= 15
