"""The whole way again without a mouse."""

from __future__ import annotations

import shutil

import pytest


@pytest.fixture
def start(tmp_path, shot):
    """A start folder with one folder of frames in it, and nothing else."""
    shutil.copytree(shot.folder, tmp_path / "work" / "first-shoot")
    return tmp_path / "work"


def reach(page, locator, most=400):
    """Press Tab until the element has the focus, which must be seen there."""
    wanted = locator.element_handle()
    for _ in range(most):
        page.keyboard.press("Tab")
        if wanted.evaluate("e => e === document.activeElement"):
            seen = wanted.evaluate(
                "e => getComputedStyle(e).outlineStyle !== 'none' && e.getBoundingClientRect().top"
                " < innerHeight && e.getBoundingClientRect().bottom > 0"
            )
            assert seen, "the focus is not seen"
            return
    raise AssertionError(f"Tab never came to {locator}")


def test_from_frames_to_settings_by_keys_alone(tab, expect, start, shot, open_page):
    page, keys = tab.page, tab.page.keyboard
    with open_page(start) as served:
        page.goto(served.address)
        reach(page, page.get_by_role("link", name="To the content"))
        reach(page, page.get_by_role("link", name="first-shoot"))
        keys.press("Enter")
        page.wait_for_selector("#patch:not([hidden])")

        reach(page, page.locator("#patch"))
        before = page.locator("#patch-x").input_value()
        keys.press("ArrowRight")
        keys.press("ArrowRight")
        keys.press("Shift+ArrowDown")
        assert float(page.locator("#patch-x").input_value()) == pytest.approx(float(before) + 2.0)
        assert page.get_by_label("as drawn").is_checked()
        reach(page, page.locator("#patch-w"))
        keys.press("Control+A")
        keys.type("20")
        assert page.locator("#patch-value").input_value().split(",")[2] == "0.2000"

        reach(page, page.get_by_label("Reading of all frames", exact=True))
        keys.type(shot.reading)
        keys.press("Tab")
        keys.type("spot")
        keys.press("Tab")
        expect(page.locator("#sheet-state")).to_contain_text("Saved to sheet.csv")
        assert f"*,{shot.reading},spot" in (start / "first-shoot" / "sheet.csv").read_text()

        # rows are walked with the arrow keys
        reach(page, page.get_by_label(f"Reading of {shot.lit[0]}", exact=True))
        for _ in range(len(shot.lit)):
            keys.press("ArrowDown")
        focused = page.evaluate("document.activeElement.getAttribute('aria-label')")
        assert focused == f"Reading of {shot.dark[0]}"
        keys.type("dark")
        keys.press("Enter")
        keys.type("dark")
        reach(page, page.get_by_role("button", name="Measure 16 frames"))
        expect(page.get_by_text("lens cap on: black is read from it")).to_have_count(2)
        keys.press("Enter")
        page.wait_for_selector("article.result")
        assert (start / "first-shoot" / "sheet.csv").read_text().count("dark") == 2

        use = page.get_by_label(f"Use {shot.lit[5]}")
        reach(page, use)
        keys.press("Space")
        page.wait_for_selector(".changes table")
        # the fit is drawn anew, and the focus stays where it was
        label = page.evaluate("document.activeElement.getAttribute('aria-label')")
        assert label == f"Use {shot.lit[5]}"
        page.reload()
        page.wait_for_selector("article.result")
        reach(page, page.get_by_role("button", name="Save the profile"))
        keys.press("Enter")
        page.get_by_role("link", name="Use it on set").wait_for()
        reach(page, page.get_by_role("link", name="Use it on set"))
        keys.press("Enter")
        page.wait_for_url("**/onset/settings**")
        reach(page, page.get_by_label("Meter reading"))
        keys.type("EV 12")
        # no label is chosen for anybody where the profile holds several
        expect(page.locator("#headline")).to_contain_text("Choose the ISO label")
        reach(page, page.get_by_label("ISO label", exact=True))
        keys.press("ArrowDown")
        expect(page.locator("#headline")).to_contain_text("Set f/")
    tab.stayed_here()
