"""Measuring that takes long: its progress is seen, and it can be cancelled."""

from __future__ import annotations

import shutil
import threading
import time

import pytest

from profiler.calibration import pipeline
from profiler.web.app import create_app
from profiler.web.server import listen, make_server
from profiler.web.tickets import Tickets


@pytest.fixture
def slow(monkeypatch):
    """Measuring that takes ten seconds, until the event is set."""
    quick = threading.Event()
    real = pipeline.measure

    def measure(*arguments, progress, **options):
        for done in range(0 if quick.is_set() else 200):
            progress(done, 200)
            time.sleep(0.05)
        return real(*arguments, progress=progress, **options)

    monkeypatch.setattr(pipeline, "measure", measure)
    return quick


@pytest.fixture
def address(tmp_path, shot, monkeypatch):
    """The page in a thread of this process."""
    monkeypatch.setenv("GREYTARE_CACHE", str(tmp_path / "cache"))
    shutil.copytree(shot.folder, tmp_path / "work" / "shoot")
    with listen(0) as door:
        port = door.getsockname()[1]
        tickets = Tickets()
        monkeypatch.setattr(tickets, "take", lambda given: given == "token")
        app = create_app(tmp_path / "work", tickets, port)
        opened = threading.Event()
        server = make_server(app, opened.set)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [door]})
        thread.start()
        assert opened.wait(10.0)
        yield f"http://127.0.0.1:{port}"
        server.should_exit = True
        thread.join(20.0)
        app.state.session.close()


def test_measuring_can_be_cancelled_and_started_again(tab, expect, slow, address):
    page = tab.page
    page.goto(f"{address}/series?folder=shoot&token=token")
    page.get_by_role("button", name="Measure 16 frames").click()
    expect(page.locator("#progress-words")).to_contain_text("of 200 frames measured, about")
    bar = page.locator("#progress-bar")
    first = float(bar.get_attribute("value") or 0)
    expect(bar).not_to_have_attribute("value", str(int(first)))
    assert float(bar.get_attribute("value")) > first
    # a second start while it runs changes nothing
    page.goto(f"{address}/series?folder=shoot")
    page.get_by_role("button", name="Measure 16 frames").click()
    expect(page.locator("#progress-words")).to_contain_text("of 200 frames measured, about")
    page.get_by_role("button", name="Cancel").click()
    expect(page.get_by_text("Measuring was cancelled.")).to_be_visible()
    slow.set()
    page.get_by_role("button", name="Measure", exact=True).click()
    expect(page.get_by_text("no frame has a reading")).to_be_visible()
    tab.stayed_here()
