"""Every page, light, dark, at the width of a phone, by the rules of accessibility."""

from __future__ import annotations

import pytest

PAGES = [
    "/series",
    "/series?folder=first-shoot",
    "/result?folder=first-shoot",
    "/onset/settings?iso=400&reading=EV+10.3&aperture=f/8",
    "/onset/place?iso=400&key=EV+12&spot_name=a+very+long+name+of+a+spot&spot=EV+17",
    "/onset/mix?flash=f/8+ISO+100&ambient=EV+8&time=1/60&flash_reading=alone&share=70",
    "/onset/ratio?key=800+lx&fill=200+lx",
    "/plan?reading=EV+12",
    "/check?folder=first-shoot&frame=IMG_0004.dng&reading=EV+10.5",
    "/teach?mistyped=1",
    "/teach/find?seed=3&difficulty=hard&flags=1&size-knee=0.8&told=1",
    "/nothing",
]


def measured(page, served):
    """Measure and fit the series, so that the result page is full."""
    page.goto(served.address)
    page.goto(f"{served.base}/result?folder=first-shoot")
    if page.get_by_role("button", name="Measure", exact=True).count():
        page.get_by_role("button", name="Measure", exact=True).click()
    page.wait_for_selector("article.result")
    page.wait_for_selector("#report .gt-report")


@pytest.mark.parametrize("tab", [{}, {"dark": True}, {"phone": True}], indirect=True)
def test_every_page(tab, served, check_page):
    """axe-core finds nothing serious; on a phone nothing is too wide or too small for a finger."""
    page = tab.page
    measured(page, served)
    for path in PAGES:
        page.goto(served.base + path)
        if path.startswith("/result"):
            page.wait_for_selector("#report .gt-report")
        page.wait_for_load_state("networkidle")
        check_page(page, path)
    tab.stayed_here()
