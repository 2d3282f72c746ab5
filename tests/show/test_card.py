"""The card holds each ISO label in the few figures that go out with a camera."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from profiler.records import Flag
from profiler.show.card import ROWS_PER_CARD, card_page, card_row

CELL = re.compile(r"<t[hd][^>]*>(.*?)</t[hd]>")


def rows_of(text):
    """Rows of the table bodies, without markup."""
    out = []
    for body in re.findall(r"<tbody>(.*?)</tbody>", text, flags=re.DOTALL):
        for row in re.findall(r"<tr>(.*?)</tr>", body):
            out.append([re.sub(r"<[^>]*>", "", cell) for cell in CELL.findall(row)])
    return out


def test_each_label(kept):
    # ISO, EI, rest, compensation, headroom, footroom to SNR 10; by hand from the kept profile;
    # a rest of 0.1 isn't told beside ± 0.1
    assert rows_of(card_page(kept)) == [
        ["100", "125", "0", "−0.3", "2.7", "5.5"],
        ["400", "500", "0", "−0.3", "2.7", "3.7"],
        ["800", "1000", "0", "−0.3", "2.6", "2.7"],
    ]


def test_who_and_when(kept):
    text = card_page(kept)
    for fact in (
        "Halden H2",
        "0004217",
        "Halden 50mm f/1.4",
        "Sprig Lm-3, serial 000731",
        "K 12.5 cd/m², C 250 / 340 lx",
        "daylight",
        "spot",
        kept.provenance.created[:10],
        "grey 2.96 stops below clip",
        "All within ±0.2 stop (95 %)",
        "fold along the dashes",
    ):
        assert fact in text, fact
    assert "dashed" in text


def test_bounds_and_what_is_missing(odd):
    rows = rows_of(card_page(odd))
    assert rows[0] == ["100 ! spot", "≤ 125", "0", "≥ −0.3", "≥ 2.7", "5.5"]
    assert rows[1][-1] == "-"
    assert [row[0] for row in rows] == ["100 ! spot", "400 spot", "800 spot", "800 incident-dome"]
    assert "clip was not seen" in card_page(odd)


def test_a_doubted_label_is_marked_and_no_margin_is_promised(kept):
    doubt = Flag(name="unusual-offset", size=2.72)
    harmless = Flag(name="noise-upper-bound", size=2.0, unit="e-")
    flags = {100: (harmless,), 400: (doubt, doubt), 800: (doubt,)}
    results = tuple(replace(each, flags=flags[each.iso]) for each in kept.results)
    text = card_page(replace(kept, results=results))
    assert [row[0] for row in rows_of(text)] == ["100", "400 !", "800 !"]
    assert text.count("! In doubt: offset unusually large, +2.72 EV.") == 1
    assert "All within" not in text


def test_agreement_needs_no_compensation(kept):
    first = kept.results[0]
    at_aim = replace(first, aim_stops=first.clip_headroom_ev.value - 0.05)
    assert card_row(at_aim).give == "0"
    assert card_row(replace(first, aim_stops=first.clip_headroom_ev.value - 0.5)).give == "+0.5"


@pytest.mark.parametrize(("count", "cards"), [(1, 1), (6, 1), (7, 2), (13, 3)])
def test_a_card_holds_six(count, cards, kept):
    text = card_page(replace(kept, results=(kept.results[0],) * count))
    assert text.count("<article") == cards
    assert len(rows_of(text)) == count
    assert f"Card {cards} of {cards}" in text
    assert ROWS_PER_CARD == 6


def test_nothing_from_outside_and_names_escaped(evil, kept):
    page = card_page(kept).replace('xmlns="http://www.w3.org/2000/svg"', "")
    page = page.replace('xmlns:xlink="http://www.w3.org/1999/xlink"', "")
    assert not re.findall(r"https?:|url\((?!#)|@import|<script|<link", page)
    text = card_page(evil)
    assert "<script" not in text.lower()
    assert text.count("&lt;script&gt;") > 5


def test_same_profile_same_bytes(kept):
    assert card_page(kept) == card_page(kept)
