"""A series that grows while the page looks on, from an empty folder to its fit."""

from __future__ import annotations

import shutil

import pytest


@pytest.fixture(scope="module")
def shelf(short_plan):
    return sorted(short_plan.glob("*.dng"))


@pytest.fixture(scope="module")
def served(tmp_path_factory, open_page):
    start = tmp_path_factory.mktemp("shoot")
    (start / "window").mkdir()
    with open_page(start) as page:
        yield page


def test_from_an_empty_folder_to_the_fit(tab, expect, served, shelf, check_page):
    page, folder = tab.page, served.folder / "window"
    headline = page.locator("#headline")
    page.goto(served.address)
    page.goto(f"{served.base}/series?folder=window")
    page.get_by_role("link", name="Follow this folder").click()
    page.get_by_label("ISO labels").fill("400, x")
    page.get_by_role("button", name="Follow this folder").click()
    expect(page.locator("#trouble")).to_contain_text("aren't ISO labels")
    page.get_by_label("ISO labels").fill("400")
    page.get_by_label("half as many").check()
    check_page(page, "before the first frame")
    page.get_by_role("button", name="Follow this folder").click()
    expect(headline).to_have_text("Waiting for the first frame.")
    # read first, then shot
    page.get_by_label("Reading").fill("EV 10.1")
    page.get_by_label("Meter mode").select_option("spot")
    page.get_by_role("button", name="Write it").click()
    assert "*,EV 10.1,spot" in (folder / "sheet.csv").read_text()
    whole = shelf[5].read_bytes()
    copied = folder / shelf[5].name
    copied.write_bytes(whole[: len(whole) // 2])
    expect(headline).to_contain_text("is whole")
    copied.write_bytes(whole)
    expect(headline).to_contain_text("ISO 400:")
    expect(headline).to_contain_text("; then done.")
    expect(page.locator("#response svg .dot-G1")).to_have_count(2)
    for path in shelf:
        shutil.copy(path, folder)
    expect(page.locator("#response svg .dot-G1")).to_have_count(11)
    expect(page.locator("#detail")).to_contain_text("Taken for lens-cap frames")
    check_page(page, "while it grows")
    page.goto(f"{served.base}/series/wall?folder=window")
    expect(page.get_by_role("heading", level=1)).to_contain_text("ISO 400:")
    expect(page.locator("#response svg .dot-G1")).to_have_count(11)
    check_page(page, "wall")
    page.go_back()
    page.get_by_role("button", name="End and fit").click()
    page.wait_for_selector("article.result")
    expect(page.locator("article.result h2").first).to_contain_text("400")
    sheet = (folder / "sheet.csv").read_text()
    assert "IMG_0011.dng,dark" in sheet
    assert "*,EV 10.1,spot" in sheet
    tab.stayed_here()


def test_a_frame_has_its_own_reading_typed_beside_it(tab, expect, served, shelf):
    page = tab.page
    folder = served.folder / "own"
    folder.mkdir()
    page.goto(served.address)
    page.goto(f"{served.base}/series/follow?folder=own")
    page.get_by_role("button", name="Follow this folder").click()
    shutil.copy(shelf[5], folder)
    expect(page.locator("#detail")).to_contain_text("the reading of IMG_0006.dng")
    page.get_by_label("For").select_option("IMG_0006.dng")
    page.get_by_label("Meter mode").select_option("spot")
    page.get_by_label("Reading").fill("EV ten")
    page.get_by_role("button", name="Write it").click()
    expect(page.locator("#trouble")).to_contain_text("is not understood")
    expect(page.get_by_label("Reading")).to_have_value("EV ten")
    page.get_by_label("For").select_option("IMG_0006.dng")
    page.get_by_label("Meter mode").select_option("spot")
    page.get_by_label("Reading").fill("EV 10.1")
    page.get_by_role("button", name="Write it").click()
    expect(page.locator("#headline")).to_contain_text("ISO 400:")
    assert "IMG_0006.dng,EV 10.1,spot" in (folder / "sheet.csv").read_text()
