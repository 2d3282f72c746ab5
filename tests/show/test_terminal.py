"""An answer as a terminal prints it."""

from __future__ import annotations

from profiler.show.answer import Answer, Note, Table, asking, facts
from profiler.show.terminal import printed

TABLE = Table(caption="Levels", head=("channel", "DN"), rows=(("green", "7"),), numbers=(1,))


def test_everything_is_printed_in_its_order():
    answer = Answer(
        headline="The answer.",
        lead=("More of it.",),
        figures=facts([("offset", "0.3 stop less"), ("nothing", "")]),
        tables=(TABLE,),
        rows=facts([("reading", "EV 10")]),
        notes=(Note(text="may flicker", warns=True), Note(text="safe")),
        steps=("Look.", "Shoot."),
        closing=("How to read it.",),
        missing=("The floor isn't known.",),
    )
    assert printed(answer) == (
        "The answer.\n\nMore of it.\n\n  offset  0.3 stop less\n\n"
        "Levels\n  channel  DN\n  green     7\n\n  reading  EV 10\n\n"
        "  ! may flicker\n  - safe\n  ! The floor isn't known.\n\n"
        "1. Look.\n2. Shoot.\n\nHow to read it."
    )


def test_figures_and_rows_are_one_block_without_a_table():
    answer = Answer(headline="A.", figures=facts([("a", "1")]), rows=facts([("long name", "2")]))
    assert printed(answer) == "A.\n\n  a          1\n  long name  2"


def test_a_request_is_its_headline():
    assert asking("Type the reading.").waits
    assert printed(asking("Type the reading.")) == "Type the reading."
    assert not Answer(headline="A.", missing=("b",)).waits
