"""Every flag that the code can raise has a meaning and an advice."""

from __future__ import annotations

import ast
from pathlib import Path

import profiler
from profiler.flags import KINDS, advice, meaning
from profiler.records import Flag


def raised() -> set[str]:
    names = set()
    for path in Path(profiler.__file__).parent.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Flag":
                names |= {
                    k.value.value
                    for k in node.keywords
                    if k.arg == "name" and isinstance(k.value, ast.Constant)
                }
    return names


def test_all_raised_flags_are_known():
    assert raised()
    assert raised() <= set(KINDS)


def test_all_known_flags_are_raised():
    assert set(KINDS) <= raised()


def test_advice_is_a_sentence_that_starts_with_a_capital():
    for name, doubt in KINDS.items():
        flag = Flag(name=name, size=1.0)
        assert meaning(flag) == doubt.meaning
        assert advice(flag)[0].isupper()
        assert not advice(flag).endswith(".")
