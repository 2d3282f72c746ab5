"""Errors carry data; only the front ends turn it into options or labels."""

from __future__ import annotations

import ast
import doctest
import importlib
import pickle
import re
from pathlib import Path

import click
import pytest

import profiler
from profiler import errors
from profiler.cli.main import COMMANDS, WORDS, option
from profiler.errors import ExposureError, GreytareError, SheetError, about
from profiler.web import rendering

ROOT = Path(profiler.__file__).parent
OPTION = re.compile(r"(?<![\w-])--[a-z]")


def sources():
    for path in sorted(ROOT.rglob("*.py")):
        yield path.relative_to(ROOT), ast.parse(path.read_text())


def texts(tree):
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.lineno, node.value


def terms():
    """Data terms that errors name, as `field` or in braces in how to mend."""
    made = {"GreytareError", "SheetError", "FrameError", "MeasureError", "ProfileError"}
    made |= {"ExposureError"}
    for where, tree in sources():
        for node in ast.walk(tree):
            if not isinstance(node, ast.Call) or getattr(node.func, "id", "") not in made:
                continue
            words = dict(zip(("what", "where", "mend", "field"), node.args, strict=False))
            words |= {each.arg: each.value for each in node.keywords}
            field, mend = words.get("field"), words.get("mend")
            if isinstance(field, ast.Constant):
                yield where, field.value
            for each in ast.walk(mend) if mend is not None else ():
                if isinstance(each, ast.Constant) and isinstance(each.value, str):
                    yield from ((where, term) for term in re.findall(r"\{([a-z_]+)\}", each.value))


def parameters(command: click.Command):
    for each in getattr(command, "commands", {}).values():
        yield from parameters(each)
    for each in command.params:
        yield from each.opts if isinstance(each, click.Option) else [f"--{each.name}"]


def test_no_option_is_named_below_the_commands():
    found = [
        f"{path}:{line} {text}"
        for path, tree in sources()
        if path.parts[0] != "cli"
        for line, text in texts(tree)
        if OPTION.search(text)
    ]
    assert found == []


def test_every_term_has_an_option_or_an_argument():
    modules = {importlib.import_module(f"profiler.cli.{name}") for name in COMMANDS.values()}
    commands = [
        each
        for module in modules
        for each in vars(module).values()
        if isinstance(each, click.Command)
    ]
    known = {name for each in commands for name in parameters(each)}
    found = {(str(where), term) for where, term in terms() if where.parts[0] != "web"}
    assert len({term for _, term in found}) > 5
    assert {
        pair for pair in found if pair[1] not in WORDS and option(pair[1]) not in known
    } == set()


def test_every_command_below_the_front_ends_is_a_term():
    """A page can then name itself in its place."""
    known = "|".join(COMMANDS)
    bare = re.compile(rf"(?<!{{)\bgreytare ({known})\b")
    named = re.compile(rf"{{greytare ({known})( [a-z]+)?}}")
    found = [
        (str(path), text)
        for path, tree in sources()
        if path.parts[0] not in ("cli", "web")
        for _, text in texts(tree)
        if "greytare " in text and "\n" not in text
    ]
    assert [each for each in found if bare.search(each[1])] == []
    assert sum(bool(named.search(text)) for _, text in found) >= 5


@pytest.mark.parametrize("kind", [GreytareError, *GreytareError.__subclasses__()])
def test_an_error_survives_pickling(kind):
    error = kind("no time", "", "Add {time}", "key")
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is kind
    assert (again.what, again.where, again.mend, again.field) == (
        "no time",
        "",
        "Add {time}",
        "key",
    )
    with pytest.raises(kind), about("spot"):
        raise again
    assert again.field == "key"


def test_the_input_named_outside_survives_pickling():
    with pytest.raises(SheetError) as caught, about("key"):
        raise SheetError("no time", "f/8", "Add one")
    assert pickle.loads(pickle.dumps(caught.value)).field == "key"


def test_each_front_end_says_a_term_in_its_own_way():
    error = ExposureError("it isn't a time", "", "Leave {flash_reading} out", "min_time")
    assert str(error) == "min time: it isn't a time. Leave flash reading out."
    assert error.said(option) == "--min-time: it isn't a time. Leave --flash-reading out."
    assert (
        rendering.sentence(error) == "Shortest time: it isn't a time. Leave ‘Flash was read’ out."
    )
    assert rendering.field_of(error, ("min_time", "key")) == "min_time"
    # what the user typed is never taken for a term
    typed = ExposureError("'{iso}' isn't a time", "'{iso}'", "Write 1/60", "time")
    assert typed.said(option) == "'{iso}' isn't a time. Write 1/60."


def test_examples_in_docstrings():
    assert doctest.testmod(errors).failed == 0
