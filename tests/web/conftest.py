"""A running page, a browser, and a folder of generated frames."""

from __future__ import annotations

import contextlib
import functools
import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import httpx
import pytest

from profiler import simulate
from profiler.web.session import Session

REPO = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(REPO / "tests" / "fleet"))  # the invented fleet is shared

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]


@dataclass(frozen=True, kw_only=True)
class Served:
    """A page that is open: printed: the ticket in the address that was printed."""

    base: str
    printed: str
    handover: Path
    port: int
    folder: Path

    @property
    def token(self) -> str:
        """A ticket that nobody has used."""
        return re.search(r"token=([\w-]+)", self.handover.read_text())[1]

    @property
    def address(self) -> str:
        """An address that lets in, once."""
        return f"{self.base}/?token={self.token}"


@dataclass(frozen=True, kw_only=True)
class Shoot:
    """A folder of frames without a sheet, with the reading that belongs to them."""

    folder: Path
    reading: str
    lit: tuple[str, ...]
    dark: tuple[str, ...]


@contextlib.contextmanager
def serving(folder: Path, cache: Path) -> Iterator[Served]:
    """Run `greytare serve` on a folder, as a user would, until Ctrl-C."""
    process = subprocess.Popen(
        [
            sys.executable,
            "-c",
            "from profiler.cli.main import main; main()",
            "serve",
            str(folder),
            "--no-browser",
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=REPO,
        env=os.environ | {"GREYTARE_CACHE": str(cache)},
    )
    try:
        assert process.stdout is not None
        line = process.stdout.readline()
        assert "http://127.0.0.1:" in line, line + (process.stderr.read() if process.stderr else "")
        address = line.split()[-1]
        base, _, token = address.partition("/?token=")
        yield Served(
            base=base,
            printed=token,
            handover=Path(process.stdout.readline().split(" open ")[-1].strip()),
            port=int(base.split(":")[-1]),
            folder=folder,
        )
    finally:
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=20)
    assert process.returncode == 0, said
    assert "Traceback" not in said
    assert said.rstrip().endswith("Ended.")


def shoot(folder: Path, *, seed: int = 5, labels: tuple[int, ...] = (100, 400), **more) -> Shoot:
    """Write a small series and take its sheet away."""
    settings = {"frames_per_label": 7, "darks": 1, "size": (480, 320)} | more
    spec = simulate.standard_series(
        simulate.load_body("halden-h2"), seed, labels=labels, **settings
    )
    written = simulate.write_series(spec, folder)
    reading = written.sheet.read_text().splitlines()[1].split(",")[1]
    written.sheet.unlink()
    names = [path.name for path in written.frames]
    lit = [name for name, each in zip(names, spec.shots, strict=True) if not each.dark]
    return Shoot(
        folder=folder,
        reading=reading,
        lit=tuple(lit),
        dark=tuple(name for name in names if name not in lit),
    )


@pytest.fixture(scope="session")
def cache(tmp_path_factory) -> Path:
    """Cache of measured frames that the tests of one process share."""
    return tmp_path_factory.mktemp("cache")


@pytest.fixture(scope="session")
def shot(tmp_path_factory) -> Shoot:
    """The generated frames; tests copy them."""
    return shoot(tmp_path_factory.mktemp("made") / "first-shoot")


@pytest.fixture(scope="session")
def calibrated(tmp_path_factory, shot, cache) -> Path:
    """A start folder with a series whose sheet is filled in, and with its profile."""
    start = tmp_path_factory.mktemp("calibrated")
    folder = start / "first-shoot"
    shutil.copytree(shot.folder, folder)
    rows = ["file,reading,mode", f"*,{shot.reading},spot", *(f"{n},dark," for n in shot.dark)]
    (folder / "sheet.csv").write_text("\n".join(rows) + "\n")
    code = "from profiler.cli.main import main; main()"
    subprocess.run(
        [
            *(sys.executable, "-c", code, "fit", str(folder), "--light", "daylight"),
            *("--out", str(folder / "halden.profile.json")),
        ],
        check=True,
        capture_output=True,
        cwd=REPO,
        env=os.environ | {"GREYTARE_CACHE": str(cache)},
        timeout=120,
    )
    return start


@pytest.fixture(scope="session")
def rental(tmp_path_factory) -> Path:
    """A folder with the profiles of eight bodies; read only."""
    import fleetlab

    return fleetlab.rental(tmp_path_factory.mktemp("shelf") / "rental")


@pytest.fixture
def session(rental) -> Session:
    """What a page that was just opened on that folder remembers."""
    return Session(rental)


@pytest.fixture(scope="session")
def open_page(cache):
    """Return a context manager that runs the page on a folder."""
    return functools.partial(serving, cache=cache)


@pytest.fixture(scope="session")
def make_shoot():
    """Return the function that writes a small series without a sheet."""
    return shoot


@pytest.fixture(scope="module")
def served(calibrated, cache) -> Iterator[Served]:
    """The page on the calibrated folder."""
    with serving(calibrated, cache) as page:
        yield page


@pytest.fixture(scope="session")
def chromium():
    """The system's Chromium under Playwright; missing it fails in CI and skips elsewhere."""
    if not Path(CHROMIUM).exists():
        _absent(f"{CHROMIUM} is absent")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        _absent("playwright is not installed")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def expect(chromium):
    """Playwright's waiting assertions; its wait_for_function needs eval, which the page forbids."""
    from playwright.sync_api import expect as waiting

    waiting.set_options(timeout=15_000)
    return waiting


@pytest.fixture(scope="session")
def axe() -> str:
    """The source of axe-core; missing it fails in CI and skips elsewhere."""
    usual = REPO / ".ci" / "node_modules" / "axe-core" / "axe.min.js"
    path = Path(os.environ.get("GREYTARE_AXE", usual))
    if not path.is_file():
        _absent(f"axe-core is not there ({path}); npm install --prefix .ci axe-core")
    return path.read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def check_page(axe):
    """Return a check: axe-core finds nothing serious; nothing is too wide or small for a phone."""

    def check(page, path: str) -> None:
        if page.viewport_size["width"] < 500:
            fits_a_phone(page, path)
        page.evaluate(axe)
        found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
        grave = [
            (v["id"], v["help"], [n["html"][:160] for n in v["nodes"][:3]])
            for v in found["violations"]
            if v["impact"] in ("serious", "critical")
        ]
        assert grave == [], path

    return check


def fits_a_phone(page, path):
    """Check that the page doesn't scroll sideways and its controls are 40 px high at least."""
    over = page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    assert over <= 0, f"{path} is {over} px too wide"
    small = page.evaluate(
        """[...document.querySelectorAll("main a.button, main button, main select")]
           .filter(e => e.offsetParent && e.offsetHeight < 40 && e.id !== "patch")
           .map(e => e.outerHTML.slice(0, 80))"""
    )
    assert small == [], f"{path}: too small for a finger"


@pytest.fixture
def user(served):
    """A client that came in by the printed address."""
    with httpx.Client(base_url=served.base, headers={"Origin": served.base}) as client:
        client.get("/", params={"token": served.token})
        yield client


def _absent(why: str) -> None:
    if os.environ.get("CI", "").lower() == "true":
        pytest.fail(why)
    pytest.skip(why)


class Tab:
    """A browser tab that notes every request and every fault of a script."""

    def __init__(self, browser, *, phone: bool = False, dark: bool = False) -> None:
        size = {"width": 390, "height": 844} if phone else {"width": 1200, "height": 900}
        self.context = browser.new_context(
            viewport=size,
            is_mobile=phone,
            has_touch=phone,
            color_scheme="dark" if dark else "light",
            locale="en-GB",
        )
        self.page = self.context.new_page()
        self.page.set_default_timeout(15_000)
        self.requests: list[str] = []
        self.faults: list[str] = []
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.page.on("pageerror", lambda error: self.faults.append(str(error)))
        self.page.on("dialog", lambda dialog: self.faults.append(f"dialog {dialog.message}"))

    def stayed_here(self) -> None:
        """Check that nothing was asked of another machine, and no script failed."""
        assert self.requests
        outside = [url for url in self.requests if not url.startswith("http://127.0.0.1:")]
        assert [url for url in outside if not url.startswith("data:")] == []
        assert self.faults == []


@pytest.fixture
def tab(chromium, request) -> Iterator[Tab]:
    """A fresh tab; parametrize it indirectly with phone=True or dark=True for another look."""
    opened = Tab(chromium, **getattr(request, "param", {}))
    yield opened
    opened.context.close()
