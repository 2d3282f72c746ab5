"""First useful paint and layout shift of the page, measured in the browser and printed.

    python tests/bench/first_paint.py [FOLDER]

Without a folder the demo's series is written first. Useful: the largest text or picture of the
first screen stands (largest contentful paint). Shift: the sum that the browser itself counts.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"]
LIMIT_S = 1.0
WATCH = """
window.shift = 0; window.largest = 0; window.moved = [];
new PerformanceObserver(list => {
  for (const e of list.getEntries()) if (!e.hadRecentInput) {
    window.shift += e.value;
    window.moved.push(...e.sources.map(s => s.node && s.node.nodeType === 1
      ? s.node.tagName + '.' + s.node.className : '?'));
  }
}).observe({type: 'layout-shift', buffered: true});
new PerformanceObserver(list => {
  for (const e of list.getEntries()) window.largest = e.startTime;
}).observe({type: 'largest-contentful-paint', buffered: true});
"""
COMMAND = [sys.executable, "-c", "from profiler.cli.main import main; main()"]


def look(page: Page, name: str, address: str) -> bool:
    """Print what one page took; return whether it kept the limit and stood still."""
    page.goto(address)
    page.wait_for_load_state("networkidle")
    page.wait_for_timeout(500)
    return report(page, name)


def report(page: Page, name: str, *, waits: bool = False) -> bool:
    """Print the figures of the page as it stands; waits: the largest part comes with results."""
    first = page.evaluate("performance.getEntriesByName('first-contentful-paint')[0].startTime")
    answer = page.evaluate("performance.getEntriesByType('navigation')[0].responseEnd")
    largest, shift = page.evaluate("[window.largest, window.shift]")
    moved = page.evaluate("[...new Set(window.moved)].slice(0, 4).join(' ')")
    print(
        f"{name:24} answer {answer:5.0f} ms   first paint {first:5.0f} ms   "
        f"useful {largest:5.0f} ms   layout shift {shift:.4f} {moved}"
    )
    return (first if waits else largest) < 1000.0 * LIMIT_S and shift < 0.01


def main() -> None:
    """Measure every page, then the result while its numbers arrive."""
    with tempfile.TemporaryDirectory() as place:
        environment = os.environ | {"GREYTARE_CACHE": f"{place}/cache"}
        start = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(place) / "demo"
        if not start.exists():
            subprocess.run([*COMMAND, "demo", str(start)], check=True, capture_output=True)
        server = subprocess.Popen(
            [*COMMAND, "serve", str(start), "--no-browser"],
            stdout=subprocess.PIPE,
            text=True,
            env=environment,
        )
        try:
            assert server.stdout is not None
            measure(server.stdout.readline().split()[-1])
        finally:
            server.terminate()
            server.wait()


def measure(address: str) -> None:
    """Open the pages one after the other in a browser without a cache of its own."""
    base = address.split("/?")[0]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        kept = True
        for width, height in ((1200, 900), (390, 844)):
            context = browser.new_context(viewport={"width": width, "height": height})
            page = context.new_page()
            page.add_init_script(WATCH)
            print(f"{width} x {height}")
            kept &= look(page, "start", address)
            for path in (
                "/series?folder=series",
                "/onset/settings",
                "/onset/place?key=EV+12&iso=400",
                "/onset/mix",
                "/plan",
                "/check",
                "/fleet/table",
                "/fleet/compare",
                "/fleet/drift",
                "/fleet/body",
                "/teach",
            ):
                kept &= look(page, path.split("?")[0], base + path)
            page.goto(f"{base}/series?folder=series")
            page.get_by_role("button", name="Measure 54 frames").click()
            page.wait_for_selector("article.result", timeout=120_000)
            page.wait_for_selector("#report .gt-report", timeout=120_000)
            page.wait_for_timeout(500)
            kept &= report(page, "result, while it arrives", waits=True)
            context.close()
        browser.close()
    print("all within the limits" if kept else f"NOT within {LIMIT_S} s and a shift of 0.01")


if __name__ == "__main__":
    main()
