"""Ten thousand random requests of the carried page against Python, and what it weighs and takes.

    python tests/web/carry_runs.py [REQUESTS]

The requests are those of test_carry.py. Printed as Markdown; the record is CARRY.md.
"""

from __future__ import annotations

import json
import random
import statistics
import sys
import tempfile
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

sys.path.insert(0, str(Path(__file__).parent))
import test_carry as asking

from profiler.files.profile import load_profile
from profiler.web.carry.one_file import Carried, carry_page

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = ["--no-sandbox", "--disable-gpu"]
PAINT = "performance.getEntriesByName('first-contentful-paint')[0].startTime"
TYPED = """
() => {
  const iso = document.querySelector("[name=iso]");
  iso.value = "400";
  iso.dispatchEvent(new Event("input", { bubbles: true }));
  const reading = document.querySelector("[name=reading]");
  return Array.from({ length: 50 }, (_, i) => {
    reading.value = `EV ${(8 + i / 10).toFixed(1)}`;
    const start = performance.now();
    reading.dispatchEvent(new Event("input", { bubbles: true }));
    return performance.now() - start;
  });
}
"""


def main() -> None:
    """Print the record."""
    many = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    data = asking.two_profiles(load_profile(asking.FIXTURE))
    draw = random.Random(1)
    asked = [(draw.randrange(2), *asking.request(draw)) for _ in range(many)]
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        path = Path(folder) / "halden.html"
        path.write_text(carry_page([Carried(name="halden", path="", data=data[0])]))
        both = Path(folder) / "both.html"
        both.write_text(
            carry_page([Carried(name=f"body {i}", path="", data=d) for i, d in enumerate(data)])
        )
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        page = browser.new_page()
        page.goto(both.as_uri())
        page.wait_for_selector(".ready", state="attached")
        got = [json.loads(text) for text in page.evaluate(asking.ASKED, asked)]
        empty = Path(folder) / "empty.html"
        empty.write_text("<!DOCTYPE html><title>empty</title><p>empty")
        loads = [(timed(browser, path), painted(browser, empty)) for _ in range(9)]
        first, ready, usual, slowest = zip(*(load for load, _ in loads), strict=True)
        bare = [paint for _, paint in loads]
        size = len(path.read_bytes())
        browser.close()
    wrong = Counter()
    for (which, tool, pairs), found in zip(asked, got, strict=True):
        if not asking.alike(asking.python(data[which], tool, pairs), found):
            wrong[tool] += 1
    tools = Counter(tool for _, tool, _ in asked)
    print(f"# What the carried page answers\n\nWith `python tests/web/carry_runs.py {many}`.\n")
    print("Whole answers are compared: every sentence, figure, table, flag and refusal.\n")
    print("| asked of | requests | unlike Python's |\n|---|---|---|")
    for tool, count in sorted(tools.items()):
        print(f"| {tool} | {count} | {wrong[tool]} |")
    print(f"| together | {many} | {wrong.total()} |\n")
    print(
        f"One file with three results: {size / 1000:.0f} kB. Medians of nine loads, beside an empty"
    )
    print("page in the same browser, for the machine was shared:\n")
    print("| | carried page | empty page |\n|---|---|---|")
    print(f"| first paint | {median(first)} ms | {median(bare)} ms |")
    print(f"| ready for a reading | {median(ready)} ms | |")
    print(f"| an answer after a key, median of fifty | {median(usual)} ms | |")
    print(f"| the slowest of fifty | {median(slowest)} ms | |")


def median(values: Sequence[float]) -> str:
    """Return the middle one in words."""
    return f"{statistics.median(values):.0f}"


def timed(browser: Browser, path: Path) -> tuple[float, float, float, float]:
    """Return first paint, readiness, the middle and the slowest of fifty answers in ms."""
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.goto(path.as_uri())
    page.wait_for_selector(".ready", state="attached")
    ready = page.evaluate("performance.getEntriesByName('ready')[0].startTime")
    first = page.evaluate(PAINT)
    answers = page.evaluate(TYPED)
    page.close()
    return first, ready, statistics.median(answers), max(answers)


def painted(browser: Browser, path: Path) -> float:
    """Return when a page was painted first, in ms."""
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.goto(path.as_uri())
    page.wait_for_timeout(100)
    first = page.evaluate(PAINT)
    page.close()
    return float(first)


if __name__ == "__main__":
    main()
