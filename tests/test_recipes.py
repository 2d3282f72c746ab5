"""The recipe for an on-set answer, cooked: four files in a copy of the package, nothing edited."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import profiler

FILES = {
    "onset/reach.py": """
from dataclasses import dataclass
from profiler.errors import about
from profiler.onset.camera import parse_aperture

@dataclass(frozen=True, kw_only=True)
class ReachAsk:
    guide_m: float
    aperture: str

@dataclass(frozen=True, kw_only=True)
class Reach:
    distance_m: float

def reach(ask):
    with about("aperture"):
        return Reach(distance_m=ask.guide_m / parse_aperture(ask.aperture).exact())
""",
    "show/onset/reach.py": """
from profiler.show.answer import Answer

def reach_answer(found):
    return Answer(headline=f"The flash reaches {found.distance_m:.1f} m.")
""",
    "cli/onset/reach.py": """
import click
from profiler.cli import onset_options, options

@options.example("greytare reach --guide 40 --aperture f/8")
@click.command()
@click.option("--guide", "guide_m", type=float, help="Guide number in m.")
@click.option("--aperture", help="The aperture.")
@options.as_json
def reach(as_json, **asked):
    \"\"\"Say how far a flash reaches.\"\"\"
    from profiler.onset.reach import ReachAsk, reach
    from profiler.show.onset.reach import reach_answer

    found = reach(ReachAsk(**asked))
    onset_options.tell(found, lambda: reach_answer(found), as_json)
""",
    "web/onset/tools/reach.py": """
from profiler.onset.reach import ReachAsk, reach
from profiler.show.answer import asking
from profiler.show.onset.reach import reach_answer
from profiler.web.fields import Field, number, text
from profiler.web.onset.shared import Tool

def form(_, __):
    return [Field(name="guide", label="Guide number"), Field(name="aperture", label="Aperture")]

def answer(_, params):
    guide = number(params, "guide", low=1, high=1000)
    if guide is None:
        return asking("Type the guide number.")
    return reach_answer(reach(ReachAsk(guide_m=guide, aperture=text(params, "aperture"))))

TOOL = Tool(title="Reach", purpose="How far a flash reaches.", form=form, answer=answer)
""",
}
ASKED = """
import asyncio, json, sys
from pathlib import Path
from click.testing import CliRunner
from starlette.requests import Request
from profiler.cli.main import greytare
from profiler.web.onset import onset_page
from profiler.web.session import Session

def typed(*words):
    return CliRunner().invoke(greytare, words).output

def asked(query):
    request = Request({"type": "http", "query_string": query.encode(), "headers": []})
    session = Session(Path(sys.argv[1]))
    return [answer(session, request, "reach").body.decode() for answer in PAGES]

PAGES = (onset_page.onset, onset_page.onset_answer)
print(json.dumps({
    "help": typed("--help"),
    "example": typed("reach", "--help"),
    "said": typed("reach", "--guide", "40", "--aperture", "f/8"),
    "json": typed("reach", "--guide", "40", "--aperture", "f/8", "--json"),
    "page": asked("guide=40&aperture=f/8"),
    "refused": asked("guide=40&aperture=x"),
    "first": asked("guide="),
}))
"""


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """What command and page say of the new answer."""
    folder = tmp_path_factory.mktemp("recipe")
    shutil.copytree(Path(profiler.__file__).parent, folder / "profiler")
    for name, text in FILES.items():
        path = folder / "profiler" / name
        assert path.parent.is_dir()
        assert not path.exists()
        path.write_text(text)
    words = [sys.executable, "-c", ASKED, str(tmp_path_factory.mktemp("start"))]
    done = subprocess.run(words, cwd=folder, capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


def test_the_new_answer_is_a_command(told):
    group = told["help"].partition("On set:")[2].partition("\n\n")[0]
    assert group.splitlines()[-1].split()[:3] == ["reach", "Say", "how"]
    assert "Example:\n    greytare reach --guide 40" in told["example"]
    assert told["said"] == "The flash reaches 5.0 m.\n"
    assert json.loads(told["json"]) == {"distance_m": 5.0}


def test_the_new_answer_is_a_tab(told):
    whole, answer = told["page"]
    assert json.loads(answer)["headline"] == "The flash reaches 5.0 m."
    assert "The flash reaches 5.0 m." in whole
    tabs = whole[whole.index('class="tabs"') : whole.index("</nav>", whole.index('class="tabs"'))]
    assert '<a href="/onset/convert">Convert</a>' in tabs.splitlines()[-3]
    assert '<a href="/onset/reach" aria-current="page">Reach</a>' in tabs.splitlines()[-2]
    assert json.loads(told["refused"][1])["field"] == "aperture"
    assert json.loads(told["first"][1])["headline"] == "Type the guide number."
