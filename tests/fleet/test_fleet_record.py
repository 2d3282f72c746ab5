"""The record to print: what it says, what is left to fill in, one page."""

from __future__ import annotations

import hashlib
import re
import shutil
import subprocess
from dataclasses import replace
from datetime import date

import fleetlab
import pytest
from markupsafe import escape

from profiler.calibration import pipeline
from profiler.fleet.index import indexed_rows
from profiler.fleet.record import DISCLAIMER, make_record
from profiler.fleet.tolerances import parse_tolerances
from profiler.show.fleet.record import record_page, shown
from profiler.simulate.memory import measure_in_memory

TODAY = date(2026, 6, 1)
DETAILS = {
    "tag": "0042",
    "date": "2026-03-01",
    "state": "as-left",
    "operator": "N. N.",
    "lab": "House rental",
    "place": "room 2",
    "temperature_c": 21.5,
    "procedure": "P-7 revision 2",
    "meter_certificate": "M-4711",
    "meter_certificate_date": "2025-11-02",
    "meter_due": "2026-11-02",
    "card": "GC-1",
    "lab_address": "Mill Lane 3, Halden",
    "customer": "Reel & Grain, Dock 4",
    "received": "2026-02-27",
    "condition": "mount worn",
    "deviations": "none",
    "external": "card measured by the maker",
    "authorised_by": "M. M.",
}
TOLERANCES = """
rule = "conformance"
interval_days = 365
[tolerances]
offset_ev = {limit = 0.4}
clip_headroom_ev = {low = 2}
"""


@pytest.fixture
def path(tmp_path):
    return fleetlab.keep(tmp_path, "shelf/a", fleetlab.profile("000105", 0.3), **DETAILS)


def test_everything_that_was_written_down(path, tmp_path):
    tolerances = parse_tolerances(TOLERANCES, "t")
    record = make_record(path, below=tmp_path, tolerances=tolerances, today=TODAY, issued=TODAY)
    page = record_page(record)
    for text in (
        *(str(escape(value)) for name, value in DETAILS.items() if name != "state"),
        "000105",
        "as left",
        "Offset: stops to add to the metered exposure; negative: give less.",
        "000731",
        "K 12.5 cd/m²",
        "+0.30 ± 0.14",
        "undecided",
        "Conformance probability: in from 95 %",
        "they expire on 2027-03-01",
        "95 %, from a budget after JCGM 100:2008",
        DISCLAIMER,
        hashlib.sha256(path.read_bytes()).hexdigest(),
        "issued 2026-06-01 by greytare",
        "The results relate only to the item",
        "Verdicts of 2026-06-01",
        "1.96",  # k
    ):
        assert text in page
    for frame in record.profile.provenance.frames:
        assert f"{frame.sha256} {frame.file}" in page
    assert 'class="blank"' not in page
    assert "http" not in page.replace("http-equiv", "")


def test_what_nobody_wrote_down_is_left_to_fill_in(tmp_path):
    path = fleetlab.keep(tmp_path, "a", fleetlab.profile("1", 0.0))
    page = record_page(make_record(path, today=TODAY, issued=TODAY))
    assert page.count('class="blank"') >= 14
    assert "No tolerances were stated, so no verdict is given." in page


def test_names_from_files_are_escaped(tmp_path):
    made = fleetlab.profile("<script>", 0.0)
    path = fleetlab.keep(tmp_path, "a", made, operator="A & B <i>")
    page = record_page(make_record(path, today=TODAY, issued=TODAY))
    assert "&lt;script&gt;" in page
    assert "A &amp; B &lt;i&gt;" in page
    assert "<script" not in page


def test_a_bound_says_so(tmp_path):
    made = fleetlab.profile("1", 0.0)
    result = made.results[0]
    bound = replace(
        result,
        offset_ev=replace(result.offset_ev, lower_bound=True),
        clip_headroom_ev=replace(result.clip_headroom_ev, lower_bound=True),
    )
    path = fleetlab.keep(tmp_path, "a", replace(made, results=(bound,)))
    record = make_record(
        path, tolerances=parse_tolerances(TOLERANCES, "t"), today=TODAY, issued=TODAY
    )
    (cells,) = shown(record).results
    assert cells[3].startswith("at least +0.00")
    assert cells[5].startswith("at most ")
    assert {row[-2] for row in shown(record).verdicts} == {"not known"}


@pytest.fixture
def long_one(tmp_path):
    """Four ISO labels, two modes, 52 frames with digests as long as they are in life."""
    options = {"labels": (100, 200, 400, 800), "pairs": True, "frames_per_label": 6}
    plan = fleetlab.spec("000777", 3, mode=("spot", "incident-flat"), **options)
    measurement, sheet = measure_in_memory(plan, 0.6)
    frames = tuple(
        replace(f, sha256=hashlib.sha256(f.file.encode()).hexdigest()) for f in measurement.frames
    )
    made = pipeline.fit(replace(measurement, frames=frames), sheet, meter=fleetlab.METER)
    return fleetlab.keep(tmp_path, "long", made, **DETAILS)


def test_as_found_and_as_left_stand_side_by_side(tmp_path):
    found = fleetlab.profile("000105", 0.5)
    fleetlab.keep(tmp_path, "f", found, **DETAILS | {"state": "as-found", "date": "2026-02-28"})
    left = fleetlab.keep(tmp_path, "l", fleetlab.profile("000105", 0.1), **DETAILS)
    fleet, _ = indexed_rows(tmp_path)
    (cells,) = shown(make_record(left, fleet=fleet, today=TODAY, issued=TODAY)).pairs
    assert cells[1:3] == ("2026-02-28", "+0.50 ± 0.14")
    assert cells[4:6] == ("2026-03-01", "+0.10 ± 0.14")
    assert cells[7].startswith("-0.40 ± 0.1")  # what the meter's readings share cancels
    assert re.fullmatch(r"\d+ \(exact \d+, \d+ to \d+\)", cells[3])
    assert shown(make_record(left, today=TODAY, issued=TODAY)).pairs == ()


def test_an_expired_certificate_and_a_day_that_nobody_knows_are_doubts(tmp_path):
    old = DETAILS | {"meter_due": "2026-02-01"}
    path = fleetlab.keep(tmp_path, "a", fleetlab.profile("1", 0.0), **old)
    texts = shown(make_record(path, today=TODAY, issued=TODAY))
    assert any("certificate had run out" in text for text in texts.doubts)
    assert "HAD RUN OUT" in dict(texts.trace)["Meter certificate"]
    path = fleetlab.keep(tmp_path, "b", fleetlab.profile("1", 0.0))
    made = make_record(path, tolerances=parse_tolerances(TOLERANCES, "t"), today=TODAY)
    assert (made.day, made.expires) == ("", "")
    assert made.issued >= "2026-11-27"  # now, whatever day it is judged on
    assert any("Nobody knows the day" in text for text in shown(made).doubts)


def test_a_long_record_leaves_nothing_out(long_one):
    tolerances = parse_tolerances(TOLERANCES, "t")
    made = make_record(long_one, tolerances=tolerances, today=TODAY, issued=TODAY)
    texts = shown(made)
    assert len(texts.results) == 8
    assert len(texts.verdicts) == 16
    assert len(texts.files) == len(made.files)


@pytest.mark.skipif(shutil.which("chromium") is None, reason="no Chromium to print with")
def test_it_prints_on_numbered_pages(long_one, tmp_path):
    tolerances = parse_tolerances(TOLERANCES, "t")
    made = make_record(long_one, tolerances=tolerances, today=TODAY)
    (tmp_path / "r.html").write_text(record_page(made))
    words = ["--headless", "--no-sandbox", "--disable-gpu", "--print-to-pdf=r.pdf"]
    subprocess.run(
        ["chromium", *words, f"--user-data-dir={tmp_path}/chromium", "r.html"],
        cwd=tmp_path,
        capture_output=True,
        timeout=120,
        check=True,
    )
    assert len(re.findall(rb"/Type\s*/Page\b", (tmp_path / "r.pdf").read_bytes())) == 2
    assert 'counter(page) " of " counter(pages)' in record_page(made)
