"""A change of tab keeps what was typed, and takes along only what means the same there."""

from __future__ import annotations

from starlette.datastructures import QueryParams

from profiler.web.onset.onset_page import TOOLS
from profiler.web.session import Kept

NONE = QueryParams()


def shared(name: str) -> tuple[str, ...]:
    return TOOLS[name].shared


def asked(kept: Kept, name: str, query: str) -> None:
    kept.keep(name, QueryParams(query), shared(name))


def test_reading_and_label_go_along():
    kept = Kept()
    asked(kept, "settings", "profile=a&iso=400&reading=EV 10&aperture=f/8")
    assert dict(kept.recall("place", NONE, shared("place"))) == {
        "profile": "a",
        "iso": "400",
        "key": "EV 10",
    }
    asked(kept, "place", "profile=a&iso=800&key=EV 11")
    assert dict(kept.recall("settings", NONE, shared("settings"))) == {
        "profile": "a",
        "iso": "800",
        "reading": "EV 11",
        "aperture": "f/8",
    }


def test_every_tab_finds_all_that_it_was_asked():
    for name in TOOLS:
        kept = Kept()
        query = "profile=a&iso=200&mode=spot&key=EV 12&reading=EV 9&fill=EV 10&quantity=EV 1"
        asked(kept, name, query)
        assert dict(kept.recall(name, NONE, shared(name))) == dict(QueryParams(query))


def test_a_conversion_changes_no_other_tab():
    """Its ISO is a setting's, not the body's label, and its mode any meter's."""
    kept = Kept()
    asked(kept, "settings", "iso=400&reading=EV 10")
    before = kept.recall("settings", NONE, shared("settings"))
    asked(kept, "convert", "quantity=EV 12&iso=100&mode=incident-dome")
    asked(kept, "ratio", "key=f/8 ISO 100&fill=f/4 ISO 100&iso=200")
    assert kept.recall("settings", NONE, shared("settings")) == before


def test_what_comes_in_counts_alone():
    kept = Kept()
    asked(kept, "settings", "iso=400&reading=EV 10")
    came = QueryParams("iso=100")
    assert kept.recall("settings", came, shared("settings")) is came
