"""A page and a command that are asked the same say the same: headline, figures, refusal."""

from __future__ import annotations

import html
import random
import re
from dataclasses import dataclass, replace
from pathlib import Path
from urllib.parse import urlencode

import pytest
from click.testing import CliRunner

from profiler import simulate
from profiler.calibration import pipeline
from profiler.cli import main as cli
from profiler.errors import GreytareError
from profiler.files.profile import save_profile
from profiler.simulate.memory import measure_in_memory
from profiler.web.rendering import sentence

COUNT = {
    "settings": 110,
    "place": 75,
    "mix": 50,
    "ratio": 12,
    "convert": 30,
    "plan": 25,
    "check": 8,
}
LABELS = {"spot": (100, 400), "two": (400,), "dim": (400,)}
READINGS = ["EV 10.3", "EV 8", "41 cd/m2", "f/8 1/125 ISO 100", "EV 10; EV 11.4", "650 lx"]
FLASHES = ["f/8 ISO 100", "f/11+2 ISO 100", "f/5.6+5 ISO 400", "f/8+3 ISO 100", "EV 9"]
QUANTITIES = ["EV 12", "650 lx", "f/11", "1/60", "ND 0.9", "18 %", "Bv 5", "ISO 400", "8 furlongs"]
LOSSES = ["ND 0.9", "factor 8", "magnification 0.5", "3 stops", "ND4"]
ASKED = """async urls => {
  const replies = [];
  for (const url of urls) replies.push(await (await fetch(url)).json());
  return replies;
}"""


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One question: the page's address with the fields, the command's words."""

    path: str
    fields: list[tuple[str, str]]
    words: list[str]

    @property
    def url(self) -> str:
        return f"{self.path}?{urlencode(self.fields)}"


class Question:
    """A question under way: what is added goes into the form and onto the command line."""

    def __init__(self, rng: random.Random) -> None:
        self.rng, self.fields, self.words = rng, [], []

    def add(self, field: str, option: str, value: str, share: float = 1.0) -> str:
        """Add an input to some of the questions; return the value where it was added."""
        if self.rng.random() >= share:
            return ""
        self.fields.append((field, value))
        self.words += [option, value] if option else [value]
        return value

    def one(self, field: str, option: str, values: list[str], share: float = 1.0) -> str:
        return self.add(field, option, self.rng.choice(values), share)

    def on_body(self) -> None:
        """What settings and place share."""
        self.one("loss", "--loss", LOSSES, 0.25)
        self.one("aim", "--aim", ["white-at-clip", "3.5", "iso12232"], 0.25)
        self.one("mains", "--mains", ["50", "60"], 0.3)
        self.one("marks", "--marks", ["half", "full"], 0.25)
        self.one("average", "--average", ["light"], 0.2)

    def body(self) -> str:
        name = self.rng.choice(list(LABELS))
        self.add("profile", "", f"{name}.profile.json")
        return name


def settings(ask: Question) -> Asked:
    name = ask.body()
    ask.one("reading", "", READINGS)
    if name == "two":
        ask.one("mode", "--mode", ["spot", "incident-flat"], 0.9)
    # an open label is the best one on either side, or asked for on either side
    ask.one("iso", "--iso", [str(iso) for iso in (*LABELS[name] * 4, 3200)], 0.6)
    ask.one("aperture", "--aperture", ["f/5.6", "f/8", "f/11", "f/16", "f/4", "f/2"], 0.7)
    ask.one("time", "--time", ["1/60", "1/250", "0.5", "1/1000"], 0.7)
    ask.on_body()
    return Asked(path="/onset/settings/answer", fields=ask.fields, words=["settings", *ask.words])


def place(ask: Question) -> Asked:
    name = ask.body()
    ask.one("iso", "--iso", [str(iso) for iso in LABELS[name]])
    base = ask.rng.uniform(8.0, 13.0)
    ask.add("key", "--key", f"EV {base:.1f}", 0.85)
    names = ask.rng.sample(["shirt", "hair", "wall", "lamp"], ask.rng.randint(1, 4))
    for spot in names:
        reading = f"EV {base + ask.rng.uniform(-6.0, 4.0):.1f}"
        ask.fields += [("spot_name", spot), ("spot", reading)]
        ask.words += ["--spot", f"{spot}={reading}"]
    if name == "two":
        ask.one("mode", "--mode", ["spot", "incident-flat"])
    exposure = ask.rng.choice(["aim", "meter", "f/5.6 1/60", "f/8 1/250"])
    ask.words += ["--setting", exposure]
    if exposure in ("aim", "meter"):
        ask.fields.append(("exposure", exposure))
    else:
        ask.fields += [("exposure", "setting"), ("setting", exposure)]
    ask.one("keep", "--keep", [*names, *names, "nobody"], 0.2)
    ask.one("shadow", "--shadow", names, 0.2)
    ask.on_body()
    return Asked(path="/onset/place/answer", fields=ask.fields, words=["place", *ask.words])


def mix(ask: Question) -> Asked:
    ask.one("profile", "--profile", ["flash.profile.json", "spot.profile.json"])
    ask.one("flash", "--flash", FLASHES)
    if ask.one("ambient", "--ambient", ["EV 8", "EV 10", "f/4 1/60 ISO 100"], 0.6):
        ask.one("time", "--time", ["1/60", "1/125"])
        ask.one("flash_reading", "--flash-reading", ["alone", "with-ambient"])
        if not ask.one("share", "--share", ["20", "50", "70"], 0.5):
            ask.one("over", "--over", ["-1", "1", "2"], 0.5)
    else:
        ask.one("flash2", "--flash", FLASHES[:2], 0.3)
    ask.one("pops", "--pops", ["2", "4"], 0.2)
    ask.one("aperture", "--aperture", ["f/8", "f/11", "f/16", "f/1.4"], 0.4)
    ask.one("loss", "--loss", LOSSES, 0.3)
    ask.one("iso", "--iso", ["100", "400"], 0.5)
    return Asked(path="/onset/mix/answer", fields=ask.fields, words=["mix", *ask.words])


def ratio(ask: Question) -> Asked:
    ask.one("profile", "--profile", ["spot.profile.json"])
    flash = ask.rng.random() < 0.4
    ask.one("key", "--key", FLASHES[:4] if flash else ["800 lx", "EV 10", "EV 11.3", "much"])
    ask.one("fill", "--fill", FLASHES if flash else ["200 lx", "EV 8", "EV 10.5"])
    if ask.rng.random() < 0.5:
        reading = ask.rng.choice(["f/5.6 ISO 100", "f/4+5 ISO 100"] if flash else ["EV 7", "99 lx"])
        ask.fields += [("lamp_name", "hair"), ("lamp", reading)]
        ask.words += ["--fill", f"hair={reading}"]
        ask.one("wanted", "--wanted", ["hair=1 stop under", "hair=4:1", "hair=2 stops"], 0.6)
    if ask.one("aperture", "--aperture", ["f/8", "f/11"], 0.3) and not flash:
        ask.one("time", "--time", ["1/60"], 0.8)
    modes = ["flash-dome"] if flash else ["spot", "incident-dome"]
    ask.one("ambient_mode", "--ambient-mode", modes, 0.5)
    return Asked(path="/onset/ratio/answer", fields=ask.fields, words=["mix", *ask.words])


def convert(ask: Question) -> Asked:
    ask.one("quantity", "", QUANTITIES)
    ask.one("iso", "--iso", ["400"], 0.3)
    ask.one("k", "--k", ["14"], 0.3)
    ask.one("c", "--c", ["340"], 0.3)
    ask.one("apex", "--apex", ["asa"], 0.3)
    ask.one("mode", "--mode", ["incident-dome", "spot"], 0.3)
    return Asked(path="/onset/convert/answer", fields=ask.fields, words=["convert", *ask.words])


def plan(ask: Question) -> Asked:
    isos = ask.rng.sample([100, 400, 1600], ask.rng.randint(1, 3))
    ask.fields.append(("iso", ", ".join(str(iso) for iso in isos)))
    for iso in isos:
        ask.words += ["--iso", str(iso)]
    if ask.one("mode", "--mode", ["spot", "incident-flat", "flash-flat"], 0.8) != "flash-flat":
        ask.one("reading", "--reading", ["EV 11", "EV 9.5", "EV 14"], 0.6)
    ask.one("light", "--light", ["tungsten", "led", "daylight"], 0.5)
    ask.one("mains", "--mains", ["50"], 0.3)
    ask.one("darks", "--darks", ["0"], 0.2)
    ask.one("aperture", "--aperture", ["f/2.8", "f/8"], 0.3)
    ask.one("min_time", "--min-time", ["1/1000", "2"], 0.2)
    ask.one("profile", "--profile", ["spot.profile.json"], 0.4)
    return Asked(path="/plan/answer", fields=ask.fields, words=["plan", *ask.words])


def check(ask: Question) -> Asked:
    ask.one("profile", "", ["spot.profile.json", "dim.profile.json"])
    frame = ask.rng.choice(["IMG_0001.dng", "IMG_0003.dng"])
    ask.fields += [("folder", "series"), ("frame", frame)]
    ask.words.append(f"series/{frame}")
    ask.one("reading", "--reading", ["EV 10.3", "EV 8.3"])
    ask.one("loss", "--loss", ["ND 0.3"], 0.3)
    return Asked(path="/check/answer", fields=ask.fields, words=["check", *ask.words])


MAKERS = (settings, place, mix, ratio, convert, plan, check)


def questions() -> list[Asked]:
    rng = random.Random(20_400)
    return [make(Question(rng)) for make in MAKERS for _ in range(COUNT[make.__name__])]


@pytest.fixture(scope="module")
def start(tmp_path_factory) -> Path:
    """A start folder with profiles of small bodies, and with a few frames of one."""
    folder = tmp_path_factory.mktemp("same")
    body = simulate.load_body("halden-h2")
    for name, mode, labels in (
        ("spot", "spot", LABELS["spot"]),
        ("two", ("spot", "incident-flat"), LABELS["two"]),
        ("dim", "spot", LABELS["dim"]),
        ("flash", "flash-flat", (100,)),
    ):
        spec = simulate.standard_series(
            body, 11, mode=mode, labels=labels, size=(96, 64), pairs=True
        )
        if name == "dim":
            spec = replace(spec, shots=spec.shots[:10])
        measurement, sheet = measure_in_memory(spec, 0.6)
        made = pipeline.fit(measurement, sheet, light=spec.scene.light)
        save_profile(made, folder / f"{name}.profile.json")
    spec = simulate.standard_series(
        body, 5, labels=(400,), frames_per_label=5, ev100=10.3, size=(240, 160)
    )
    simulate.write_series(spec, folder / "series")
    return folder


def by_command(words: list[str]) -> tuple[list[str], str]:
    """Lines that a command prints, or the refusal as a page says it."""
    done = CliRunner().invoke(cli.greytare, words)
    if isinstance(done.exception, GreytareError):
        return [], sentence(done.exception)
    assert done.exception is None, (words, done.exception, done.output)
    return done.output.splitlines(), ""


def test_page_and_command_say_the_same(tab, start, open_page, cache, monkeypatch):
    asked = questions()
    assert len(asked) >= 200
    with open_page(start) as served:
        tab.page.goto(served.address)
        replies = tab.page.evaluate(ASKED, [each.url for each in asked])
    monkeypatch.setenv("GREYTARE_CACHE", str(cache))
    monkeypatch.chdir(start)
    told = dict.fromkeys(("answered", "refused", "waits"), 0)
    for each, reply in zip(asked, replies, strict=True):
        lines, refusal = by_command(each.words)
        if refusal:
            # what a page still waits for, a command refuses
            waits = reply.get("missing", False)
            told["waits" if waits else "refused"] += 1
            assert waits or reply["error"] == refusal, each
            continue
        told["answered"] += 1
        assert reply.get("headline") == lines[0], (each, reply)
        assert reply["figures"], each
        facts, rows = shown(reply["html"])
        assert facts[: len(reply["figures"])] == [tuple(pair) for pair in reply["figures"]]
        for cells in (*facts, *rows):
            printed = re.compile("  +" + " +".join(re.escape(cell) for cell in cells if cell))
            assert any(printed.fullmatch(line) for line in lines), (each, cells)
    assert told["answered"] >= 200
    assert told["refused"] > 10
    assert told["waits"] > 0


def shown(markup: str) -> tuple[list[tuple[str, ...]], list[tuple[str, ...]]]:
    """Names with their texts, and the rows of tables, that a page shows."""
    facts = re.findall(r"<dt>(.*?)</dt><dd>(.*?)</dd>", markup)
    rows = [
        tuple(re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row))
        for row in re.findall(r"<tr>(.*?)</tr>", markup)
    ]
    return [tuple(map(html.unescape, each)) for each in facts], [
        tuple(map(html.unescape, each)) for each in rows
    ]
