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


WIDE = Table(
    caption="Where the doubt comes from",
    head=("source", "degrees of freedom", "contribution, EV"),
    rows=((("meter", "as its maker states, one reading, taken before the frames"), "12", "0.058"),),
    foot=((("sum"), "", "0.06"),),
    numbers=(1, 2),
)


def test_a_wide_table_breaks_the_names_of_its_columns_and_its_remarks():
    assert printed(Answer(headline="A.", tables=(WIDE,)), 66) == (
        "A.\n\nWhere the doubt comes from\n"
        "          degrees\n"
        "               of  contribution,\n"
        "  source  freedom             EV\n"
        "  meter        12          0.058  as its maker states, one\n"
        "                                  reading, taken before the frames\n"
        "  sum                       0.06"
    )


def test_a_remark_without_room_goes_below_its_row():
    lines = printed(Answer(headline="A.", tables=(WIDE,)), 50).splitlines()
    assert "  meter        12          0.058" in lines
    assert "      as its maker states, one reading, taken" in lines


def test_no_line_is_longer_than_the_terminal_and_no_word_is_lost():
    answer = Answer(
        headline="At ISO 400 your meter and this body disagree: give 0.3 stop less.",
        figures=facts([("offset", "to be added to the metered exposure " * 4)]),
        tables=(WIDE,),
        notes=(Note(text="may flicker under mains light of fifty hertz " * 3, warns=True),),
        steps=("Read the meter three more times, some of them after the last frame. " * 2,),
        closing=("Stops and EV are the same thing; more means more exposure.",),
    )
    for width in (50, 66, 80, 120):
        text = printed(answer, width)
        assert max(map(len, text.splitlines())) <= width
        assert sorted(text.split()) == sorted(printed(answer).split())


SPOTS = Table(
    caption="Where each lands",
    head=("spot", "to clip, stops", "verdict"),
    rows=(("hair", "6.9", "not clipped; below the floor (SNR 10)"), ("lamp", "-1.2", "clipped")),
    numbers=(1,),
)


def test_a_column_of_words_is_broken_before_numbers_are():
    assert printed(Answer(headline="A.", tables=(SPOTS,)), 44).splitlines()[2:] == [
        "Where each lands",
        "           to",
        "        clip,",
        "  spot  stops  verdict",
        "  hair    6.9  not clipped; below the floor",
        "               (SNR 10)",
        "  lamp   -1.2  clipped",
    ]


def test_rows_of_a_table_that_is_too_wide_are_paragraphs_that_name_their_cells():
    lines = printed(Answer(headline="A.", tables=(WIDE,)), 30).splitlines()[3:]
    assert lines[:4] == [
        "  meter",
        "    degrees of freedom: 12;",
        "    contribution, EV: 0.058;",
        "    as its maker states, one",
    ]
    assert lines[-2:] == ["  sum", "    contribution, EV: 0.06"]
    assert max(map(len, lines)) <= 30


def test_of_two_columns_of_words_the_wider_one_is_broken():
    shot = Table(
        caption="",
        head=("spot", "what it is", "verdict"),
        rows=(("hair", "a dark wig on a stand", "not clipped; below the floor where SNR is ten"),),
    )
    assert printed(Answer(headline="A.", tables=(shot,)), 64).splitlines()[2:] == [
        "  spot  what it is             verdict",
        "  hair  a dark wig on a stand  not clipped; below the floor",
        "                               where SNR is ten",
    ]
