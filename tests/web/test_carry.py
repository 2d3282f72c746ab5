"""The carried page against Python's own answers, in a real browser from a file: address."""

from __future__ import annotations

import json
import os
import random
from dataclasses import asdict, replace
from pathlib import Path

import pytest
from starlette.datastructures import QueryParams

from profiler.errors import GreytareError
from profiler.files.profile import load_profile
from profiler.onset.profile import Profile
from profiler.records import Flag
from profiler.web.carry import answers
from profiler.web.carry.one_file import Carried, carry_page
from profiler.web.rendering import sentence

FIXTURE = Path(__file__).resolve().parents[2] / "fixtures" / "profile-v2.profile.json"
MANY = int(os.environ.get("GREYTARE_CARRY_REQUESTS", "2000"))
F = ["f/1.4", "f/2.8", "f/4", "f/5.6", "f/5.6", "f/6.3", "f/8", "f/8", "f/9.5", "f/11", "f/16"]
T = ["1/8000", "1/1000", "1/250", "1/125", "1/60", "1/50", "1/8", "0.5", "1", "4", "30"]

ASKED = """
(asked) => {
  const said = JSON.parse(document.getElementById("carried").textContent, (_, value) =>
    value && typeof value === "object" && "~" in value ? $.dict(value["~"]) : value);
  return asked.map(([which, tool, pairs]) => {
    try {
      const profile = { data: said.profiles[which].data };
      if (tool === "shots") {
        const shots = JSON.parse(pairs[0][1]);
        return JSON.stringify({ text: greytare.sheet_of(profile, $.QueryParams(pairs), shots) });
      }
      return JSON.stringify(greytare.answer_to(tool, profile, $.QueryParams(pairs)));
    } catch (problem) {
      const ours = problem instanceof greytare.GreytareError;
      if (!ours) return JSON.stringify({ crash: problem.stack });
      return JSON.stringify({ error: greytare.sentence(problem), field: problem.field });
    }
  });
}
"""


@pytest.fixture(scope="module")
def profiles():
    return two_profiles(load_profile(FIXTURE))


def two_profiles(one):
    """A measured body; the same with clip not seen, and read in more ways."""
    results = []
    for result in one.results:
        clip = replace(result.clip_headroom_ev, lower_bound=True)
        channels = {n: replace(c, clip_seen=n == "R") for n, c in result.channels.items()}
        results.append(replace(result, clip_headroom_ev=clip, channels=channels))
    dome = [replace(r, mode="incident-dome", footroom_ev=None) for r in one.results]
    doubts = (Flag(name="unusual-offset", size=2.72), Flag(name="slip", size=1.0))
    doubts += (Flag(name="few-frames", size=3.0, unit="frames"), Flag(name="later", size=0.5))
    flash = [replace(r, mode="flash-dome", light="flash", flags=doubts) for r in one.results]
    return [one, replace(one, results=(*results[:1], *dome[1:2], *flash[:1]))]


@pytest.fixture(scope="module")
def page_file(profiles, tmp_path_factory):
    path = tmp_path_factory.mktemp("carry") / "halden.html"
    path.write_text(
        carry_page([Carried(name=f"body {i}", path="", data=d) for i, d in enumerate(profiles)])
    )
    return path


def test_random_requests_answer_as_python_does(tab, page_file, profiles):
    draw = random.Random(20)
    asked = [(draw.randrange(2), *request(draw)) for _ in range(MANY)]
    tab.page.goto(page_file.as_uri())
    tab.page.wait_for_selector(".ready")
    got = [json.loads(text) for text in tab.page.evaluate(ASKED, asked)]
    wanted = [python(profiles[which], tool, pairs) for which, tool, pairs in asked]
    wrong = [
        (ask, *difference(want, found))
        for ask, want, found in zip(asked, wanted, got, strict=True)
        if not alike(want, found)
    ]
    for each in wrong[:3]:
        print(each)
    assert not wrong
    assert any("not shot" in w.get("text", "") for w in wanted)
    answered = [w["headline"] for w in wanted if "headline" in w]
    assert len(answered) > 0.45 * MANY
    assert len(set(answered)) > 0.2 * MANY
    assert tab.faults == []


def request(draw):
    """A tool with what somebody may have typed into its fields."""
    weights = {"settings": 3, "place": 2} | dict.fromkeys(
        ("mix", "ratio", "convert", "sheet", "shots"), 1
    )
    tool = draw.choices([*weights], [*weights.values()])[0]
    maybe = lambda chance, made: made() if draw.random() < chance else ""  # noqa: E731
    iso = draw.choice(["100", "400", "800", "400", "", "1600"])
    fields = {
        "settings": lambda: {
            "reading": reading(draw),
            "iso": iso,
            "aperture": maybe(0.5, lambda: draw.choice(F)),
            "time": maybe(0.3, lambda: draw.choice(T)),
            "mode": maybe(0.3, lambda: draw.choice(["spot", "incident-dome", "flash-dome"])),
            "light": maybe(0.2, lambda: "daylight"),
            "mains": draw.choice(["0", "0", "50", "60"]),
            "marks": draw.choice(["third", "third", "half", "full"]),
            "loss": maybe(0.2, lambda: draw.choice(["ND 0.9", "3 stops; ND64"])),
            "aim": maybe(0.1, lambda: draw.choice(["white-at-clip", "3.5"])),
        },
        "place": lambda: {
            "iso": iso,
            "key": maybe(0.9, lambda: reading(draw)),
            "exposure": draw.choice(["aim", "aim", "meter", "setting"]),
            "setting": f"{draw.choice(F[2:])} {draw.choice(T)}",
            "keep": maybe(0.1, lambda: "lamp"),
            "sync": maybe(0.1, lambda: "1/200"),
        },
        "mix": lambda: {
            "iso": draw.choice(["", "", "100", "400"]),
            "flash": maybe(0.9, lambda: flash(draw)),
            "flash2": maybe(0.2, lambda: flash(draw)),
            "ambient": maybe(0.8, lambda: ev(draw, 3, 14)),
            "time": draw.choice(T),
            "flash_reading": draw.choice(["alone", "alone", "with-ambient"]),
            "share": maybe(0.3, lambda: str(draw.randrange(1, 100))),
            "pops": draw.choice(["1", "1", "2", "4"]),
            "aperture": maybe(0.3, lambda: draw.choice(F)),
            "flash_mode": draw.choice(["flash-flat", "flash-dome"]),
        },
        "ratio": lambda: {
            "key": reading(draw),
            "fill": reading(draw),
            "lamp_name": maybe(0.2, lambda: "rim"),
            "lamp": reading(draw),
            "wanted": maybe(0.3, lambda: draw.choice(["4:1", "rim 1 stop under"])),
            "aperture": maybe(0.3, lambda: draw.choice(F)),
            "time": maybe(0.3, lambda: draw.choice(T)),
        },
        "convert": lambda: {
            "reading": reading(draw),
            "iso": draw.choice(["100", "400"]),
            "mode": maybe(0.3, lambda: draw.choice(["spot", "incident-dome"])),
        },
        "sheet": lambda: {
            "reading": ev(draw, 6, 15),
            "iso": draw.choice(["400", "100, 400"]),
            "mode": "spot",
            "light": draw.choice(["daylight", "tungsten"]),
        },
    }
    fields["shots"] = lambda: {
        "shots": json.dumps([[draw.randrange(12), ""] for _ in range(draw.randrange(20))]),
        **fields["sheet"](),
        "after": maybe(0.7, lambda: ev(draw, 6, 15)),
        "first_file": draw.choice(["", "IMG_0098.dng", 'a,"b 9.CR3', "nothing", "9"]),
    }
    pairs = [[name, value] for name, value in fields[tool]().items() if value]
    if tool == "place":
        for name in ["hair", "lamp", "sky", "coat </script>"][: draw.randrange(5)]:
            pairs += [["spot_name", name], ["spot", ev(draw, 4, 18)]]
    return tool, pairs


def ev(draw, low=0, high=18):
    return f"EV {draw.uniform(low, high):.1f}"


def flash(draw):
    return f"{draw.choice(F)}+{draw.randrange(10)} ISO {draw.choice([100, 400])}"


def reading(draw):
    time, iso = draw.choice(T[1:9]), draw.choice([100, 400, 800])
    return draw.choice(
        [
            ev(draw, 4, 16),
            ev(draw, 4, 16),
            ev(draw, 4, 16),
            f"{draw.choice(F)}+{draw.randrange(10)} {time} ISO {iso}",
            f"{draw.choice(F)} {time} ISO {iso}",
            f"f/5.6₃ {time} ISO {iso}",
            f"f/8+1/3, {time} ISO {iso}",
            f"{ev(draw, 8, 12)}; {ev(draw, 8, 12)}",
            f"{draw.randrange(10, 3000)} cd/m2",
            f"{draw.randrange(10, 30000)} lx",
            draw.choice(["EV", "f/8 1/60", "12", "650 luxx"]),
        ]
    )


def python(data, tool, pairs):
    """The same answer by Python itself."""
    try:
        if tool == "shots":
            shots = [tuple(shot) for shot in json.loads(pairs[0][1])]
            return {"text": answers.sheet_of(Profile(data), QueryParams(pairs), shots)}
        return asdict(answers.answer_to(tool, Profile(data), QueryParams(pairs)))
    except GreytareError as error:
        return {"error": sentence(error), "field": error.field}


def difference(want, found):
    """The first field in which two answers differ, with both texts."""
    names = dict.fromkeys([*want, *found])
    if "crash" in found:
        return "crash", found["crash"], want
    name = next(n for n in names if n not in want or n not in found or not alike(want[n], found[n]))
    return name, want.get(name), found.get(name)


def alike(one, other):
    """Whether two answers are one: texts to the letter, the marks of pictures to 1e-9."""
    if isinstance(one, float | int) and isinstance(other, float | int):
        return abs(one - other) <= 1e-9 * max(1.0, abs(one))
    if isinstance(one, frozenset):
        return one == set(other)
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(alike(one[k], other[k]) for k in one)
    if isinstance(one, list | tuple) and isinstance(other, list | tuple):
        return len(one) == len(other) and all(map(alike, one, other))
    return one == other
