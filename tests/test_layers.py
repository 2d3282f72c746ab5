"""Imports point one way, and each foreign library has its owners."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import profiler

ROOT = Path(profiler.__file__).parent

# from the bottom up: a module imports from its own layer or from those before it
LAYERS = [
    {"errors", "version"},
    {"standards"},
    {"records"},
    {"results"},
    {"flags"},
    {"exposure"},
    {"calibration.fit"},
    {"files"},
    {"frames"},
    {
        f"calibration.{name}"
        for name in ("against", "exposures", "reading_error", "groups", "alike")
    },
    {"simulate"},
    {"calibration.assemble"},
    {"calibration.pipeline", "calibration"},
    {"onset"},
    {"follow"},
    {"fleet"},
    {"show"},
    {"api"},
    {"cli", "web"},
]

# library -> modules (or packages) that may import it
OWNERS = {
    "rawpy": {"frames.decode"},
    "exiv2": {"frames.exif", "simulate.dng"},
    "imageio": {"frames.planes", "frames.preview"},
    "tifffile": {"simulate.dng"},
    "imagecodecs": {"simulate.dng"},
    "scipy": {"fleet.p_values", "fleet.bench"},
    "msgspec": {"files.strict"},
    "matplotlib": {"show"},
    "jinja2": {"show.templating", "web.rendering"},
    "fastapi": {"web"},
    "starlette": {"web"},
    "uvicorn": {"web.server"},
    "segno": {"web.phone.link"},
    "distributed": {"fleet.batch.workers"},
    "sqlalchemy": {"fleet.table"},
    "rich": {"cli"},
    "click": {"cli"},
    "sqlite3": {"frames.cache", "fleet.table"},
    "pandas": {"fleet.table"},
    "pyarrow": {"fleet.index", "fleet.rowsfile"},
}


def modules():
    for path in sorted(ROOT.rglob("*.py")):
        name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
        yield name.removesuffix(".__init__"), ast.parse(path.read_text())


def imported(tree: ast.AST):
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            yield node.module
            if node.module == "profiler":
                yield from (f"profiler.{alias.name}" for alias in node.names)


def layer(name: str) -> int:
    parts = name.split(".")
    places = {".".join(parts[:2]), parts[0]} if parts[0] == "calibration" else {parts[0]}
    return min(i for i, names in enumerate(LAYERS) if places & names)


def test_imports_point_down():
    wrong = []
    for name, tree in modules():
        if name == "__init__":
            continue
        for target in imported(tree):
            parts = target.split(".")
            if parts[0] != "profiler" or len(parts) == 1:
                continue
            if parts[1] in ("__version__", "__init__"):
                continue
            if layer(".".join(parts[1:])) > layer(name):
                wrong.append(f"{name} imports {target}")
    assert wrong == []


@pytest.mark.parametrize("library", OWNERS)
def test_one_owner(library):
    users = {
        name
        for name, tree in modules()
        if any(target.split(".")[0] == library for target in imported(tree))
    }
    owners = OWNERS[library]
    assert {u for u in users if u not in owners and u.split(".")[0] not in owners} == set()


def test_front_ends_are_siblings():
    for name, tree in modules():
        top = name.split(".")[0]
        if top in ("cli", "web"):
            other = "web" if top == "cli" else "cli"
            reached = {t for t in imported(tree) if t.startswith(f"profiler.{other}")}
            # the commands that start the page, or write it to take along, are the doors
            doors = {
                "cli.page.serve": "profiler.web.app",
                "cli.onset.carry": "profiler.web.carry.one_file",
            }
            assert reached <= {doors.get(name)}


def test_top_level_of_the_project():
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE"}
    allowed |= {"profiler", "tests", "fixtures", "notebooks"}
    made = {"build", "dist", "greytare-demo"}
    names = {p.name for p in ROOT.parent.iterdir() if not p.name.startswith(".")}
    assert {n for n in names - made if not n.endswith(".egg-info")} == allowed


def test_public_names_exist():
    for name in profiler.__all__:
        assert callable(getattr(profiler, name))
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = profiler.nothing


def test_a_constant_is_set_once():
    """A second one would win without a word."""
    twice = []
    for path in sorted(ROOT.rglob("*.py")):
        seen = set()
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            targets = getattr(node, "targets", [])
            targets = [node.target] if isinstance(node, ast.AnnAssign) else targets
            names = {n.id for t in targets for n in ast.walk(t) if isinstance(n, ast.Name)}
            twice += [f"{path.relative_to(ROOT)}: {name}" for name in names & seen]
            seen |= names
    assert not twice
