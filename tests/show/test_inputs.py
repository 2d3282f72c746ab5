"""An input that several questions have is one option and one field wherever it is asked."""

from __future__ import annotations

from dataclasses import fields as record_fields

import click
import pytest
from starlette.datastructures import QueryParams

from profiler.cli.main import greytare
from profiler.errors import ExposureError
from profiler.onset.on_body import OnBody
from profiler.show.inputs import ON_BODY
from profiler.web import fields
from profiler.web.onset import shared

DEFAULTS = {each.name: each.default for each in record_fields(OnBody)}


def parameters(name: str) -> dict[str, click.Parameter]:
    command = greytare.get_command(click.Context(greytare), name)
    return {each.name: each for each in command.params}


@pytest.mark.parametrize("command", ["settings", "place"])
def test_whatever_may_be_asked_of_a_body_is_an_option(command):
    known = parameters(command)
    assert set(DEFAULTS) <= set(known)
    for given in ON_BODY:
        assert known[given.key].opts == [f"--{given.name}"]
        assert known[given.key].help == given.help


def test_whatever_may_be_asked_of_a_body_is_a_field():
    assert set(shared.on_body(QueryParams())) == set(DEFAULTS) - {"lens"}
    assert [each.name for each in shared.body_fields()] == [
        *(each.name for each in ON_BODY),
        "between",
    ]


def test_nothing_typed_asks_what_no_option_asks():
    form = QueryParams([(each.name, each.value) for each in shared.body_fields()])
    for typed in (shared.on_body(QueryParams()), shared.on_body(form)):
        assert {name: value or None for name, value in typed.items()} == {
            name: value or None for name, value in DEFAULTS.items() if name != "lens"
        }
    known = parameters("settings")
    context = click.Context(greytare.get_command(click.Context(greytare), "settings"))
    for given in ON_BODY:
        found = known[given.key].process_value(context, known[given.key].get_default(context))
        assert (found or None) == (DEFAULTS[given.key] or None)


@pytest.mark.parametrize(
    ("query", "key", "value"),
    [
        ("mains=50", "mains_hz", 50.0),
        ("mains=0", "mains_hz", 0.0),
        ("marks=half", "marks", "half"),
        ("loss=ND 0.9; 3 stops;", "loss", ["ND 0.9", "3 stops"]),
        ("transmission=0,9", "transmission", 0.9),
        ("sync=1/200", "sync_s", "1/200"),
    ],
)
def test_what_is_typed_is_read(query, key, value):
    assert fields.typed(ON_BODY, QueryParams(query))[key] == value


@pytest.mark.parametrize("query", ["mains=55", "marks=sixth", "transmission=1.1", "average=x"])
def test_what_is_no_choice_is_refused(query):
    with pytest.raises(ExposureError) as caught:
        fields.typed(ON_BODY, QueryParams(query))
    assert caught.value.field == query.partition("=")[0]
