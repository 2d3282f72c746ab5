"""The commands of a fleet and its pages, given the same, say the same."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from urllib.parse import urlencode

import fleetlab
import pytest
from click.testing import CliRunner

from profiler.cli.main import greytare

# command, page with what is asked of it
SAME = [
    (("compare",), "compare", {"group": "Halden H2, ISO 400, spot, daylight"}),
    (
        ("compare", "--quantity", "linear_headroom_ev", "--common", "0.9"),
        "compare",
        {
            "quantity": "linear_headroom_ev",
            "common": "0.9",
            "group": "Halden Orrin X6, ISO 400, spot, daylight",
        },
    ),
    (("compare",), "compare", {"group": "Halden H2, ISO 800, spot, daylight"}),
    (
        ("compare", "--body", "R1", "--against", "R4"),
        "compare",
        {"what": "pair", "body": "R1", "against": "R4"},
    ),
    (
        ("compare", "--body", "R2", "--against", "R3", "--quantity", "clip_headroom_ev"),
        "compare",
        {"what": "pair", "body": "R2", "against": "R3", "quantity": "clip_headroom_ev"},
    ),
    (("compare", "--meters"), "compare", {"what": "meters"}),
    (
        ("compare", "--meters", "--quantity", "linear_headroom_ev"),
        "compare",
        {"what": "meters", "quantity": "linear_headroom_ev"},
    ),
    (("drift", "--tolerances", "limits.toml"), "drift", {}),
    (
        ("drift", "--tolerances", "limits.toml", "--quantity", "linear_headroom_ev"),
        "drift",
        {"quantity": "linear_headroom_ev"},
    ),
    (("drift",), "drift", {"tolerances": "none"}),
]


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """A fleet with a bound in it, and a body that was measured by two meters."""
    start = fleetlab.rental(tmp_path_factory.mktemp("same") / "rental")
    meter = replace(fleetlab.METER, serial="000999")
    other = fleetlab.profile("000002", 0.1, meter=meter, own_u_ev=0.01)
    fleetlab.keep(start, "profiles/000002/other", other, date="2026-11-09", tag="R2")
    made = fleetlab.profile("000001", -0.3, iso=800)
    (result,) = made.results
    bound = replace(
        result,
        offset_ev=replace(result.offset_ev, lower_bound=True),
        clip_headroom_ev=replace(result.clip_headroom_ev, lower_bound=True),
    )
    bound_one = replace(made, camera=replace(made.camera, serial="000077"), results=(bound,))
    fleetlab.keep(start, "profiles/000077/a", bound_one, date="2026-11-09", tag="R77")
    return start


@pytest.fixture(scope="module")
def served(place, open_page):
    with open_page(place) as page:
        yield page


def said(place, words, monkeypatch):
    """What a command prints, its lines without the blanks between columns."""
    monkeypatch.chdir(place)
    name, *rest = words
    done = CliRunner().invoke(greytare, ["fleet", name, "profiles", *rest])
    assert done.exit_code in (0, 3), done.output  # 3: some bodies are not in
    return [" ".join(line.split()) for line in done.stdout.splitlines()]


@pytest.mark.parametrize(("words", "tool", "asked"), SAME, ids=lambda x: "")
def test_command_and_page_say_the_same(tab, served, place, monkeypatch, words, tool, asked):
    lines = said(place, words, monkeypatch)
    page = tab.page
    page.goto(served.address)
    page.goto(f"{served.base}/fleet/{tool}?{urlencode(asked)}")
    assert page.locator("#headline").inner_text() in lines
    rows = page.locator("#detail table.listed tbody tr")
    count = rows.count()
    assert count or "one body alone" in page.locator("#headline").inner_text()
    for row in rows.all():
        cells = " ".join(row.locator("th, td").all_inner_texts())
        assert " ".join(cells.split()) in lines
    notes = page.locator("#detail .warn, #detail .note, #detail .lead").all_inner_texts()
    for note in notes:
        text = note.removeprefix("Look out:").strip()
        assert any(line.removeprefix("! ").removeprefix("- ") == text for line in lines)
    tab.stayed_here()


def test_verdicts_are_those_of_the_command(tab, served, place, monkeypatch):
    lines = said(place, ("decide", "--tolerances", "limits.toml"), monkeypatch)
    page = tab.page
    page.goto(served.address)
    page.goto(f"{served.base}/fleet/table")
    bodies, counted = page.locator("#headline").inner_text().partition(" of ")[2].split(": ")
    assert lines[0] == f"{bodies}: {counted}"
    for name in ("R4", "R6"):
        page.goto(f"{served.base}/fleet/body?body={name}")
        (line,) = (each for each in lines if each.startswith(f"{name} ("))
        notes = page.locator("#detail .note").all_inner_texts()
        (note,) = (each for each in notes if each.startswith("ISO"))
        limits = note.partition("limits ")[2].partition(" EV")[0]
        verdict = note.rpartition("EV: ")[2].partition(",")[0]
        conforms = note.partition("conforms: ")[2]
        assert line.endswith(f"{limits} {verdict} {conforms}")
    tab.stayed_here()


def test_a_record_is_that_of_the_command(place, tmp_path, monkeypatch, user):
    monkeypatch.chdir(place)
    day, series = datetime.now(UTC).date().isoformat(), "profiles/000004/2026-11-09"
    words = ["record", ".", "--out", str(tmp_path), "--tolerances", "limits.toml", "--on", day]
    assert CliRunner().invoke(greytare, ["fleet", *words]).exit_code == 0
    shown = user.get("/fleet/record", params={"series": series})
    assert shown.text == (tmp_path / f"{series}.record.html").read_text()
