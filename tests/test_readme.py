"""What the README shows is run here, as it stands."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

REPO = Path(__file__).resolve().parents[1]
README = (REPO / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", README, flags=re.DOTALL)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("readme")


def python(words: list[str], folder: Path) -> str:
    done = subprocess.run(
        [sys.executable, *words],
        cwd=folder,
        text=True,
        capture_output=True,
        env=os.environ | {"GREYTARE_CACHE": str(folder / "cache")},
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_commands_in_their_order_then_python(folder):
    for block in blocks("toml"):
        name = re.match(r"# (\S+\.toml)\n", block)
        (folder / (name[1] if name else "meter.toml")).write_text(block)
    commands = [
        line
        for block in blocks("sh")
        for line in block.splitlines()
        if line.startswith("greytare ")
    ]
    assert len(commands) >= 6
    for line in commands:
        words = shlex.split(line)[1:]
        python(["-c", "from profiler.cli.main import main; main()", *words], folder)
    out = python(["-c", blocks("python")[0]], folder)
    assert "from the metered grey to clipping, green first" in out


def test_meter_file_reads(folder):
    from profiler.files.meter import read_meter

    (folder / "m.toml").write_text(blocks("toml")[0])
    assert read_meter(folder / "m.toml").serial == "00418"


def test_every_column_of_the_sheet_is_told():
    from profiler.files.sheet import COLUMNS, OPTIONAL_COLUMNS

    rows = [line for line in README.splitlines() if line.startswith("| `")]
    told = {name for line in rows for name in re.findall(r"`(\w+)`", line.split("|")[1])}
    assert set(COLUMNS + OPTIONAL_COLUMNS) <= told


def test_first_paragraph_is_the_job():
    first = next(p for p in README.split("\n\n") if not p.startswith("#"))
    assert "meter" in first
    assert "clipping" in first


def test_the_two_set_up_commands():
    lines = [line for line in README.splitlines() if line.startswith("python3 -m venv")]
    assert len(lines) == 2
    assert lines[0].endswith("greytare demo")
    assert lines[1].endswith("pytest")
    assert 'eval "$set_up_and_test"' in (REPO / ".ci" / "run").read_text()


def test_every_fixture_has_its_source():
    said = (REPO / "fixtures" / "SOURCES.md").read_text()
    for path in (REPO / "fixtures").iterdir():
        assert path.name == "SOURCES.md" or path.name in said
