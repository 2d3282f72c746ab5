"""From a folder of frames to an answer on set, in a real browser."""

from __future__ import annotations

import csv
import json
import re
import shutil

import pytest


@pytest.fixture
def start(tmp_path, shot):
    """A start folder with one folder of frames in it, and nothing else."""
    shutil.copytree(shot.folder, tmp_path / "work" / "first-shoot")
    return tmp_path / "work"


def rows(folder):
    with (folder / "sheet.csv").open(newline="") as file:
        return list(csv.DictReader(file))


def true_headroom(shot, iso):
    truth = json.loads((shot.folder / "truth.json").read_text())
    return next(r["clip_headroom_ev"] for r in truth["results"] if r["iso"] == iso)


def test_from_frames_to_a_placed_scene(tab, expect, start, shot, open_page):
    page = tab.page
    folder = start / "first-shoot"
    with open_page(start) as served:
        page.goto(served.address)
        assert served.token not in page.url
        page.get_by_role("link", name="first-shoot").click()

        # a reading is answered while it is typed, a wrong one in words
        reading = page.get_by_label("Reading of all frames", exact=True)
        reading.fill("EV ten")
        reply = page.locator("tr.general .reply")
        expect(reply).to_have_class("reply wrong")
        assert "is not understood. Write the reading" in reply.inner_text()
        assert not (folder / "sheet.csv").exists()
        reading.fill(shot.reading)
        page.get_by_label("Meter mode of all frames", exact=True).select_option("spot")
        page.get_by_text(f"{shot.reading} at ISO 100").wait_for()
        state = page.locator("#sheet-state")
        expect(state).to_contain_text("Saved to sheet.csv")
        assert [(r["file"], r["reading"], r["mode"]) for r in rows(folder)] == [
            ("*", shot.reading, "spot")
        ]
        page.get_by_label(f"Reading of {shot.dark[0]}", exact=True).fill("dark")
        page.get_by_label(f"Reading of {shot.dark[0]}", exact=True).press("Enter")
        page.get_by_text("lens cap on: black is read from it").wait_for()
        page.get_by_label(f"Fill down from {shot.dark[0]}").click()
        expect(page.get_by_label(f"Reading of {shot.dark[1]}", exact=True)).to_have_value("dark")
        expect(page.locator(f'tr.line[data-file="{shot.dark[1]}"]')).to_have_attribute(
            "data-row", "2"
        )
        assert {r["file"]: r["reading"] for r in rows(folder)} == {
            "*": shot.reading,
            **dict.fromkeys(shot.dark, "dark"),
        }
        assert "Saved" in state.inner_text()

        # the patch is dragged
        page.wait_for_selector("#patch:not([hidden])")
        assert page.get_by_label("found by itself").is_checked()
        page.locator("#preview").scroll_into_view_if_needed()
        box = page.locator("#patch").bounding_box()
        page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        page.mouse.down()
        page.mouse.move(
            box["x"] + box["width"] / 2 + 30, box["y"] + box["height"] / 2 + 20, steps=4
        )
        page.mouse.up()
        moved = page.locator("#patch").bounding_box()
        assert moved["x"] - box["x"] == pytest.approx(30, abs=2)
        assert moved["y"] - box["y"] == pytest.approx(20, abs=2)
        assert page.get_by_label("as drawn").is_checked()
        wanted = [float(part) for part in page.locator("#patch-value").input_value().split(",")]

        # measured and fitted
        page.get_by_role("button", name="Measure 16 frames").click()
        page.wait_for_selector("article.result")
        headings = page.locator("article.result h2").all_inner_texts()
        assert headings == ["ISO 100, spot, other", "ISO 400, spot, other"]
        figures = page.locator("article.result").nth(1).locator("dd").all_inner_texts()
        found = float(re.match(r"[\d.]+", figures[2])[0])
        assert found == pytest.approx(true_headroom(shot, 400), abs=0.1)
        page.wait_for_selector("#report .gt-report")

        # a frame left out, then a wrong reading: fitted at once, said what changed
        frame = page.locator(f'tr.line[data-file="{shot.lit[3]}"]')
        frame.get_by_label(f"Use {shot.lit[3]}").uncheck()
        page.wait_for_selector(".changes table")
        assert "lie on the line" in page.locator(".changes table").inner_text()
        assert page.locator("#said").inner_text().startswith("Fitted again.")
        assert "not used" in frame.inner_text()
        assert {r["file"]: r["use"] for r in rows(folder)}[shot.lit[3]] == "no"
        wrong = f"EV {float(shot.reading.split()[1]) + 3:.1f}"
        other = page.locator(f'tr.line[data-file="{shot.lit[2]}"]')
        other.get_by_label(f"Meter mode of {shot.lit[2]}").select_option("spot")
        other = page.locator(f'tr.line[data-file="{shot.lit[2]}"]')
        other.get_by_label(f"Own reading of {shot.lit[2]}").fill(wrong)
        other.get_by_label(f"Own reading of {shot.lit[2]}").press("Tab")
        page.get_by_text("left out, slip").wait_for()

        # a correction that can't be read is refused beside the field, and stays to be corrected
        before = (folder / "sheet.csv").read_bytes()
        field = page.locator(f'tr.line[data-file="{shot.lit[2]}"]')
        field.get_by_label(f"Own reading of {shot.lit[2]}").fill("f/8 at noon")
        field.get_by_label(f"Own reading of {shot.lit[2]}").press("Tab")
        expect(field.locator(".reply")).to_contain_text("Not counted: ")
        expect(page.locator("#said")).to_have_class("state failed")
        assert (folder / "sheet.csv").read_bytes() == before
        value = field.get_by_label(f"Own reading of {shot.lit[2]}").input_value()
        assert value == "f/8 at noon"
        field.get_by_label(f"Own reading of {shot.lit[2]}").fill("")
        field.get_by_label(f"Own reading of {shot.lit[2]}").press("Tab")
        expect(page.locator("#content")).not_to_contain_text("left out, slip")

        # saved, then used
        page.get_by_label("Light", exact=True).select_option("daylight")
        expect(page.locator("#said")).to_contain_text("nothing changed")
        page.get_by_label("Name", exact=True).fill("first body")
        page.get_by_role("button", name="Save the profile").click()
        page.get_by_role("link", name="Use it on set").click()
        saved = json.loads((folder / "first body.profile.json").read_text())
        assert {r["light"] for r in saved["results"]} == {"daylight"}
        assert saved["provenance"]["patch"] == ",".join(f"{part:.4f}" for part in wanted)
        assert saved["camera"]["serial"] == "0004217"
        page.get_by_role("link", name="Place", exact=True).click()
        page.get_by_label("ISO label", exact=True).select_option("400")
        page.get_by_label("Key reading").fill("EV 12")
        page.get_by_label("Name of spot 1").fill("lamp")
        page.get_by_label("Reading of spot 1").fill("EV 17")
        page.get_by_text("clipped: lamp").or_(page.get_by_text("Clipped: lamp")).wait_for()
        scale = page.locator("#scale svg")
        expect(scale).to_contain_text("lamp")
        assert "grey (key)" in scale.text_content()
        assert "Clipped: lamp" in scale.get_attribute("aria-label")
        page.get_by_label("Reading of spot 1").fill("EV 13")
        page.get_by_text("Nothing is lost").wait_for()
    tab.stayed_here()


def test_teach_follows_a_slider(tab, expect, served):
    page = tab.page
    page.goto(served.address)
    page.goto(f"{served.base}/teach")
    first = page.locator("#headline").inner_text()
    page.wait_for_selector("#response svg")
    slider = page.get_by_label("ISO gain")
    slider.focus()
    for _ in range(10):
        slider.press("ArrowRight")
    expect(page.locator("#headline")).not_to_have_text(first)
    page.get_by_text("1.70 stops").wait_for()
    slider = page.get_by_label("One mistyped reading")
    slider.focus()
    for _ in range(10):
        slider.press("ArrowRight")
    page.get_by_text("slip, -1.00 EV").wait_for()
    assert page.locator("#residuals path.cross").count() == 1
    tab.stayed_here()


def test_check_and_plan_answer(tab, served, shot):
    page = tab.page
    page.goto(served.address)
    page.goto(f"{served.base}/check")
    page.get_by_label(shot.lit[10]).check()
    page.get_by_label("Meter reading").fill(shot.reading)
    page.get_by_role("button", name="Check").click()
    page.get_by_text("As the profile says").wait_for()
    page.goto(f"{served.base}/plan")
    page.get_by_label("ISO labels").fill("100, 800")
    page.get_by_role("region", name="ISO 800").wait_for()
    address = page.get_by_role("link", name="Page to print").get_attribute("href")
    page.goto(address)
    assert "Shooting list" in page.title()
    tab.stayed_here()
