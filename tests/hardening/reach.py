"""Tells which tests run a line, and runs these alone on a changed copy of the project.

    python tests/hardening/reach.py COPY TEST_FILE_OR_FOLDER...

runs tests once and keeps in COPY/.reach, a file for each test file, which lines of `profiler/` each
test runs, and how long it takes. It needs coverage.py, which nothing else here needs: `pip install
coverage`. COPY is a copy of the project (`git worktree add`) that nobody else uses. Make a new one
when the code has changed; a test file that has changed is run anew.

What a fixture of a module or session runs belongs to every test that asks for it. A line that runs
at import alone (a constant, a default) belongs to all tests that import its module, or run any line
of it or of a module that imports it.
"""

from __future__ import annotations

import ast
import hashlib
import importlib
import json
import os
import pkgutil
import random
import re
import signal
import sys
import tempfile
import time
import warnings
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

FIRST_TESTS, FIRST_PER_FILE, FIRST_PER_FUNCTION = 40, 8, 3
"""What is run first of the tests of a line; then the rest."""
MOST_S = 20.0
"""What the tests of one change may take in each of both rounds, as they took when learnt."""
PATIENCE_S = 300
QUIET = [
    "-q",
    "-n",
    "0",
    "-p",
    "no:cacheprovider",
    "-W",
    "ignore::pytest.PytestAssertRewriteWarning",
]


@dataclass
class Test:
    """One test: its own seconds, the wide fixtures it asks for, the lines that it runs."""

    name: str
    seconds: float
    fixtures: list[str]
    lines: dict[str, set[int]]

    @property
    def file(self) -> str:
        """Its file, below the root."""
        return self.name.partition("::")[0]


@dataclass
class Reach:
    """The tests of some files, and what each of them runs."""

    root: Path
    tests: list[Test] = field(default_factory=list)
    fixtures: dict[str, tuple[float, dict[str, set[int]]]] = field(default_factory=dict)

    @classmethod
    def of(cls, root: Path) -> Reach:
        """Read what is known of the tests of a copy."""
        self = cls(root)
        for known in sorted(_kept(root, f) for f in test_files(root, ["tests"])):
            if not known.exists():
                continue
            kept = json.loads(known.read_text())
            for name, (seconds, lines) in kept["fixtures"].items():
                self.fixtures[name] = (seconds, {p: set(n) for p, n in lines.items()})
            for name, (seconds, fixtures, lines) in kept["tests"].items():
                lines = {p: set(n) for p, n in lines.items()}
                self.tests.append(Test(name, seconds, fixtures, lines))
        return self

    def runs(self, test: Test, path: str, lines: set[int] | None) -> bool:
        """Return whether a test runs one of the lines of a file; None: any of them."""
        ran = [test.lines, *(self.fixtures[f][1] for f in test.fixtures if f in self.fixtures)]
        return any(r[path] & lines if lines else r[path] for r in ran if path in r)

    def tests_of(self, path: Path, line: int) -> tuple[list[Test], bool]:
        """Return the tests that run the statement of a line, and whether only an import runs it."""
        place, lines = path.relative_to(self.root).as_posix(), statement(path, line)
        found = [t for t in self.tests if self.runs(t, place, lines)]
        if found:
            return found, False
        users = {place, *self._importers(path)}
        return [
            t for t in self.tests if t.file in users or any(self.runs(t, u, None) for u in users)
        ], True

    def _importers(self, path: Path) -> list[str]:
        """The modules and test files that import a module."""
        dotted = path.relative_to(self.root).with_suffix("").as_posix().replace("/", ".")
        package, _, name = dotted.removesuffix(".__init__").rpartition(".")
        imports = re.compile(
            rf"(from|import) {re.escape(package)}\.{name}\b"
            rf"|from {re.escape(package)} import (\([^)]*|.*)\b{name}\b"
        )
        code = [*(self.root / "profiler").rglob("*.py"), *(self.root / "tests").rglob("*.py")]
        found = [p for p in code if imports.search(p.read_text(encoding="utf-8"))]
        return [p.relative_to(self.root).as_posix() for p in found]

    def seconds(self, tests: Iterable[Test]) -> float:
        """Return what tests of one file cost together."""
        wide: set[str] = set()
        own = 0.0
        for test in tests:
            own += test.seconds
            wide.update(test.fixtures)
        return own + sum(self.fixtures[f][0] for f in wide if f in self.fixtures)

    def rounds(self, tests: list[Test], near: str) -> Iterator[list[Test]]:
        """Yield first a few tests of each file, then the rest; near: the folder that goes first."""
        left = self._by_cost(tests, near)
        first: list[Test] = []
        files: Counter[str] = Counter()
        functions: Counter[str] = Counter()
        for test in left:
            function = test.name.partition("[")[0]
            if files[test.file] < FIRST_PER_FILE and functions[function] < FIRST_PER_FUNCTION:
                files[test.file] += 1
                functions[function] += 1
                first.append(test)
        first = self._within(self._by_cost(first, near)[:FIRST_TESTS])
        yield first
        names = {t.name for t in first}
        yield self._within([t for t in left if t.name not in names])

    def _by_cost(self, tests: list[Test], near: str) -> list[Test]:
        """Tests by file: those of the folder first, the quickest of either first."""
        files = defaultdict(list)
        for test in sorted(tests, key=lambda t: t.seconds):
            files[test.file].append(test)
        order = sorted(files.values(), key=lambda f: (near not in f[0].file, self.seconds(f)))
        return [test for file in order for test in file]

    def _within(self, tests: list[Test]) -> list[Test]:
        chosen: list[Test] = []
        spent, wide = 0.0, set[str]()
        for test in tests:
            fixtures = set(test.fixtures) - wide
            more = test.seconds + sum(self.fixtures[f][0] for f in fixtures if f in self.fixtures)
            if spent + more <= MOST_S:
                spent += more
                wide |= fixtures
                chosen.append(test)
        return chosen


def statement(path: Path, line: int) -> set[int]:
    """Return the lines of the statement that a line belongs to, without those inside it."""
    tree = ast.parse(path.read_text())
    around = [
        n for n in ast.walk(tree)
        if isinstance(n, ast.stmt) and n.lineno <= line <= (n.end_lineno or 0)
    ]  # fmt: skip
    inner = max(around, key=lambda n: (n.lineno, -(n.end_lineno or 0)))
    lines = set(range(inner.lineno, (inner.end_lineno or 0) + 1))
    for node in ast.walk(inner):
        if isinstance(node, ast.stmt) and node is not inner:
            lines -= set(range(node.lineno, (node.end_lineno or 0) + 1))
    return lines


def test_files(root: Path, places: Iterable[str]) -> list[str]:
    """Return the test files in some places, each once, as paths below the root."""
    found = []
    for place in places:
        path = root / place
        found += sorted(path.rglob("test_*.py")) if path.is_dir() else sorted(root.glob(place))
    return list(dict.fromkeys(f.relative_to(root).as_posix() for f in found))


def _kept(root: Path, file: str) -> Path:
    digest = hashlib.sha256((root / file).read_bytes()).hexdigest()[:12]
    return root / ".reach" / f"{file.replace('/', '.')}.{digest}.json"


@contextmanager
def changed(path: Path, content: bytes) -> Iterator[None]:
    """Let a file hold something else, at a time that no compiled file has, and put it back."""
    before, written = path.read_bytes(), path.stat().st_mtime
    other = written + random.randrange(10, 10**6)
    try:
        path.write_bytes(content)
        os.utime(path, (other, other))
        yield
    finally:
        path.write_bytes(before)
        os.utime(path, (written, written))


class _Contexts:
    """Names the test, or the wide fixture, that each line is run by."""

    def __init__(self, root: Path, coverage: Any) -> None:
        self.root, self.coverage = root, coverage
        self.tests: dict[str, tuple[float, list[str]]] = {}
        self.fixtures: dict[str, float] = {}
        self.failed: set[str] = set()
        self._now, self._wide = "", 0.0

    def _switch(self, context: str) -> None:
        self._now = context
        self.coverage.switch_context(context)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        started, self._wide = time.monotonic(), 0.0
        self._switch(item.nodeid)
        try:
            return (yield)
        finally:
            self._switch("")
            known = getattr(item, "_fixtureinfo", None)
            asked = known.name2fixturedefs.values() if known else ()
            wide = [_name(f[-1]) for f in asked if f[-1].scope != "function"]
            own = time.monotonic() - started - self._wide
            self.tests[item.nodeid] = (round(own, 3), wide)

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any) -> Iterator[object]:
        if fixturedef.scope == "function":
            return (yield)
        started, before = time.monotonic(), self._now
        self._switch("fixture " + _name(fixturedef))
        try:
            return (yield)
        finally:
            self._switch(before)
            seconds = time.monotonic() - started
            self._wide += seconds
            name = _name(fixturedef)
            self.fixtures[name] = max(self.fixtures.get(name, 0.0), round(seconds, 3))

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed.add(report.nodeid)


def _name(fixture: Any) -> str:
    return f"{fixture.baseid}::{fixture.argname}"


def learn(root: Path, files: list[str]) -> None:
    """Run test files once and keep what each of their tests runs."""
    import coverage

    cover = coverage.Coverage(data_file=None, config_file=False, source=[str(root / "profiler")])
    cover.set_option("run:disable_warnings", ["no-data-collected", "module-not-measured"])
    cover.start()
    import profiler

    for found in pkgutil.walk_packages(profiler.__path__, "profiler."):
        if not found.name.endswith("__main__"):
            importlib.import_module(found.name)
    contexts = _Contexts(root, cover)
    pytest.main([*QUIET, *files], plugins=[contexts])
    cover.stop()
    ran: dict[str, dict[str, list[int]]] = defaultdict(lambda: defaultdict(list))
    data = cover.get_data()
    for path in data.measured_files():
        place = Path(path).relative_to(root).as_posix()
        for line, names in data.contexts_by_lineno(path).items():
            for name in names:
                ran[name][place].append(line)
    modules = [m for m in sys.modules if not m.startswith(("profiler", "tests", "coverage", "_"))]
    (root / ".reach").mkdir(exist_ok=True)
    known = root / ".reach" / "modules.json"
    before = json.loads(known.read_text()) if known.exists() else []
    known.write_text(json.dumps(list(dict.fromkeys([*before, *modules]))))
    for file in files:
        tests = {
            n: (s, f, ran[n]) for n, (s, f) in contexts.tests.items()
            if n.startswith(file + "::") and n not in contexts.failed
        }  # fmt: skip
        wide = {f for _, fixtures, _ in tests.values() for f in fixtures}
        fixtures = {n: (s, ran["fixture " + n]) for n, s in contexts.fixtures.items() if n in wide}
        _kept(root, file).write_text(json.dumps({"tests": tests, "fixtures": fixtures}))
    print(f"{len(contexts.tests)} tests of {len(files)} files; failed: {sorted(contexts.failed)}")


class _Chosen:
    """Runs some tests of what is collected, in the order given, and keeps the first that fails."""

    def __init__(self, names: list[str], answer: Path) -> None:
        self.order = {name: place for place, name in enumerate(names)}
        self.answer = answer

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = sorted(
            (i for i in items if i.nodeid in self.order), key=lambda i: self.order[i.nodeid]
        )

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed and not self.answer.stat().st_size:
            last = str(getattr(report.longrepr, "reprcrash", report.longrepr))[-200:]
            self.answer.write_text(json.dumps([report.nodeid, last]))

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        if report.failed and not self.answer.stat().st_size:
            self.answer.write_text(json.dumps([report.nodeid, "can't be imported"]))


def terminated(*_: object) -> None:
    """End as an interrupt does, so that what was changed is put back."""
    raise KeyboardInterrupt


class Runner:
    """Runs tests of a copy in a fork of this process, in which the libraries are loaded already."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self._sound: set[str] = set()
        self._broken: set[str] = set()
        os.chdir(root)
        sys.path.insert(0, str(root))
        os.environ["PYTHONPATH"] = str(root)
        signal.signal(signal.SIGTERM, terminated)
        sys.dont_write_bytecode = True
        assert "profiler" not in sys.modules
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            for name in json.loads((root / ".reach" / "modules.json").read_text()):
                if not name.startswith(("test_", "conftest")):
                    try:
                        importlib.import_module(name)
                    except Exception:  # a plugin's or a test's own module; it is loaded when used
                        continue

    def failure(self, names: list[str]) -> tuple[str, str] | None:
        """Return the first of some tests that fails, with its error; None where all pass."""
        if not names:
            return None
        with tempfile.NamedTemporaryFile() as answer:
            files = list(dict.fromkeys(n.partition("::")[0] for n in names))
            code = _fork(files, _Chosen(names, Path(answer.name)))
            told = Path(answer.name).read_text()
        if code in (0, None) and not told:
            return None if code == 0 else (names[0], "hangs")
        test, last = json.loads(told) if told else (names[0], f"pytest ended with {code}")
        return test, last

    def first_failure(
        self, reach: Reach, tests: list[Test], path: Path
    ) -> tuple[int, tuple[str, str] | None]:
        """Return how many of some tests were run for a changed file, and the first that fails."""
        ran, near = 0, f"tests/{path.relative_to(self.root).parts[1]}/"
        for part in reach.rounds([t for t in tests if t.name not in self._broken], near):
            ran += len(part)
            if failure := self.failure([t.name for t in part]):
                return ran, failure
        return ran, None

    def sound(self, name: str) -> bool:
        """Return whether a test passes where nothing is changed; if not, it is run no more."""
        if name in self._sound or "::" not in name:
            return True
        (self._broken if self.failure([name]) else self._sound).add(name)
        return name in self._sound


def _fork(files: list[str], chosen: _Chosen) -> int | None:
    """Return the exit code of pytest on files in a child; None where it hangs."""
    child = os.fork()
    if child == 0:
        os.setpgid(0, 0)
        nothing = os.open(os.devnull, os.O_RDWR)
        for descriptor in (0, 1, 2):
            os.dup2(nothing, descriptor)
        code = 99
        try:
            code = int(pytest.main([*QUIET, "-x", *files], plugins=[chosen]))
        finally:
            os._exit(code)
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.02)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return None


if __name__ == "__main__":
    copy = Path(sys.argv[1]).resolve()
    wanted = [f for f in test_files(copy, sys.argv[2:]) if not _kept(copy, f).exists()]
    os.chdir(copy)
    sys.path.insert(0, str(copy))
    os.environ["PYTHONPATH"] = str(copy)
    if wanted:
        learn(copy, wanted)
