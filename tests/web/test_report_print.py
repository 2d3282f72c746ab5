"""The report of many results on paper and on a laptop's screen."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from profiler.files.profile import load_profile
from profiler.show.report.document import report_page

ISOS = (100, 200, 400, 800, 1600, 3200, 6400, 12800, 25600)


@pytest.fixture(scope="module")
def report(tmp_path_factory, calibrated) -> Path:
    """The report of a profile with nine results."""
    two = load_profile(calibrated / "first-shoot" / "halden.profile.json")
    results = tuple(replace(two.results[i % 2], iso=iso) for i, iso in enumerate(ISOS))
    path = tmp_path_factory.mktemp("report") / "nine.html"
    path.write_text(report_page(replace(two, results=results)), encoding="utf-8")
    return path


def test_nine_results_print_on_six_pages_with_a_picture_on_the_first(chromium, report):
    page = chromium.new_page(viewport={"width": 1000, "height": 800})
    page.goto(report.as_uri())
    printed = page.pdf(format="A4", prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", printed)) <= 6
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
