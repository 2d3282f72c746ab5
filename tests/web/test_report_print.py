"""The report of many results on paper and on a laptop's screen."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from profiler.calibration import pipeline
from profiler.files.profile import load_profile
from profiler.show.class_sheets import Pupil, tasks_page
from profiler.show.report.document import report_page
from profiler.simulate.hidden import Hidden, hidden_series
from profiler.simulate.memory import measure_in_memory

ISOS = (100, 200, 400, 800, 1600, 3200, 6400, 12800, 25600)


@pytest.fixture(scope="module")
def report(tmp_path_factory, calibrated) -> Path:
    """The report of a profile with nine results."""
    two = load_profile(calibrated / "first-shoot" / "halden.profile.json")
    results = tuple(replace(two.results[i % 2], iso=iso) for i, iso in enumerate(ISOS))
    path = tmp_path_factory.mktemp("report") / "nine.html"
    path.write_text(report_page(replace(two, results=results)), encoding="utf-8")
    return path


def pages(page) -> int:
    """How many sheets of A4 a page takes."""
    printed = page.pdf(format="A4", prefer_css_page_size=True)
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", printed))


def test_task_sheets_print_one_to_a_page_with_their_words_inside_the_picture(chromium, tmp_path):
    pupils = []
    for number, fault in enumerate((("mains-flicker", 0.6), ("knee", 0.5)), start=1):
        task = Hidden(seed=number, difficulty="easy", faults=(fault,))
        measurement, sheet = measure_in_memory(hidden_series(task, size=(96, 64)))
        profile = pipeline.fit(measurement, sheet, light="daylight")
        name = f"student-{number:02d}"
        pupils.append(
            Pupil(folder=name, hidden=task, profile=profile, frames=tuple(measurement.frames))
        )
    path = tmp_path / "tasks.html"
    path.write_text(tasks_page(pupils), encoding="utf-8")
    page = chromium.new_page(viewport={"width": 1000, "height": 800})
    page.goto(path.as_uri())
    assert pages(page) == 2
    outside = page.evaluate(
        """[...document.querySelectorAll("svg text")].filter(each => {
             const one = each.getBoundingClientRect();
             const all = each.ownerSVGElement.getBoundingClientRect();
             return one.left < all.left || one.right > all.right || one.top < all.top ||
               one.bottom > all.bottom + 1;
           }).map(each => each.textContent)"""
    )
    assert outside == []
    page.close()


def test_nine_results_print_on_six_pages_with_a_picture_on_the_first(chromium, report):
    page = chromium.new_page(viewport={"width": 1000, "height": 800})
    page.goto(report.as_uri())
    assert pages(page) <= 6
    first = page.locator(".gt-report section").first
    assert first.locator("svg.gt-marks").bounding_box()["y"] < 400
    # unfolded or not, no table is cut on a screen of 1000 px
    page.evaluate("document.querySelectorAll('details').forEach(each => (each.open = true))")
    cut = page.evaluate(
        """[...document.querySelectorAll(".gt-scroll")]
           .filter(each => each.scrollWidth > each.clientWidth + 1)
           .map(each => each.querySelector("table").id)"""
    )
    assert cut == []
    page.close()
