"""What a terminal prints and what a page shows are the words of one Answer, none added or lost."""

from __future__ import annotations

import html
import re

import pytest

from profiler.onset.convert import ConvertAsk, converted
from profiler.onset.mix_camera import MixAsk, mixed_light
from profiler.onset.plan import PlanAsk, plan
from profiler.onset.ratio import RatioAsk, ratio_of
from profiler.records import Meter
from profiler.show.answer import Answer, Note, Table, facts
from profiler.show.onset.convert import convert_answer
from profiler.show.onset.mix import mix_answer
from profiler.show.onset.plan import plan_answer
from profiler.show.onset.ratio import ratio_answer
from profiler.show.terminal import printed
from profiler.web.rendering import plain

MIX = MixAsk(
    flash="f/8 ISO 100", ambient="EV 8", time="1/60", flash_reading="alone", share=0.5, pops=2
)
FULL = Answer(
    headline="The <headline>.",
    lead=("A lead & more.",),
    figures=facts([("figure", "0.3 ± 0.1 stop less")]),
    tables=(Table(caption="A table", head=("name", "n"), rows=(("cell", "7"),), numbers=(1,)),),
    rows=facts([("row", "what it rests on")]),
    notes=(Note(text="something to change", warns=True), Note(text="something to know")),
    steps=("The first step.", "The second one."),
    closing=("How to read it.",),
    missing=("Something is missing.",),
)
ANSWERS = {
    "everything": lambda: FULL,
    "mix": lambda: mix_answer(mixed_light(MIX)),
    "ratio": lambda: ratio_answer(ratio_of(RatioAsk(key="EV 12", fill="EV 10"), Meter())),
    "convert": lambda: convert_answer(converted(ConvertAsk(quantity="EV 12"))),
    "plan": lambda: plan_answer(plan(PlanAsk(isos=(100, 400), light="led"))),
}


def words_of(answer: Answer) -> list[str]:
    """Every text of an answer below its headline, in no order."""
    cells = [
        text
        for table in answer.tables
        for text in (table.caption, *table.head, *(cell for row in table.rows for cell in row))
    ]
    named = [text for fact in (*answer.figures, *answer.rows) for text in (fact.name, fact.text)]
    notes = [note.text for note in answer.notes]
    whole = (*answer.lead, *answer.steps, *answer.closing, *answer.missing)
    return [text for text in (*cells, *named, *notes, *whole) if text]


def letters(text: str) -> str:
    """A text without the marks, counts and blanks that a front end sets between the words."""
    bare = re.sub(r"(?m)^(  [!-] |\d+\. )|Look out:|Missing:", "", text)
    return "".join(sorted(re.sub(r"\s", "", bare)))


@pytest.mark.parametrize("name", ANSWERS)
def test_terminal_and_page_hold_the_words_of_one_answer(name):
    answer = ANSWERS[name]()
    text, page = printed(answer), plain(answer)
    first, _, rest = text.partition("\n")
    assert first == page["headline"] == answer.headline
    # pictures say again what stands beside them
    markup = re.sub(
        r"(?s)<svg.*?</svg>(?!</svg>)", "", re.sub(r"<svg x=.*?</svg>", "", page["html"])
    )
    markup = re.sub(r'<div[^>]*aria-label="[^"]*"[^>]*>', "", markup)
    shown = html.unescape(re.sub(r"<[^>]*>", " ", markup))
    said = words_of(answer)
    for words in said:
        assert words in rest
        assert words in shown
    # nothing is said by one alone
    assert letters(rest) == letters(shown) == letters(" ".join(said))
