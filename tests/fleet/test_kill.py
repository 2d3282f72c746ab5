"""Runs killed at random moments and resumed: the same table, no half files, no orphans."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import fleetlab
import numpy as np
import pytest

from profiler.files.profile import load_profile
from profiler.fleet.batch.run import run_fleet
from profiler.fleet.index import find_profiles

KILLS = 20
BODIES = 14


def start(root: Path, out: Path) -> subprocess.Popen[bytes]:
    words = ["fleet", "run", str(root), "--out", str(out), "--jobs", "2"]
    return subprocess.Popen(
        [sys.executable, "-c", "from profiler.cli.main import main; main()", *words],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )


def alive(group: int) -> bool:
    """Whether a process of a group still runs; those that only wait to be reaped don't."""
    try:
        os.killpg(group, 0)
    except (ProcessLookupError, PermissionError):
        return False
    if not Path("/proc/self/stat").exists():
        return True
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            state, _, its_group = stat.read_text().rpartition(")")[2].split()[:3]
        except (OSError, ValueError):
            continue
        if int(its_group) == group and state != "Z":
            return True
    return False


def all_gone(group: int, patience_s: float = 20.0) -> bool:
    end = time.monotonic() + patience_s
    while time.monotonic() < end:
        if not alive(group):
            return True
        time.sleep(0.02)
    return False


def done(out: Path) -> int:
    return len(list(out.rglob("*.about.json"))) if out.is_dir() else 0


def kill_somewhere(process: subprocess.Popen[bytes], out: Path, rng: np.random.Generator) -> bool:
    """Kill the run after a random number of further series and a random moment; False: it ended."""
    target = done(out) + int(rng.integers(0, 5))
    while process.poll() is None and done(out) < target:
        time.sleep(0.005)
    time.sleep(float(rng.uniform(0.0, 0.3)))
    if process.poll() is not None:
        return False
    os.kill(process.pid, signal.SIGKILL)  # the parent alone: its workers must follow
    process.wait()
    return True


def check_whole(out: Path) -> None:
    """Every file under its final name is whole: profiles read, JSON parses."""
    if not out.is_dir():
        return
    if any(out.rglob("*.profile.json")):
        for path in find_profiles(out):
            load_profile(path)
    for path in out.rglob("*.json"):
        json.loads(path.read_text())


@pytest.mark.skipif(sys.platform == "win32", reason="kill -9 and process groups are POSIX")
def test_killed_at_random_moments_and_resumed(tmp_path):
    root = fleetlab.levels_fleet(tmp_path / "root", BODIES)
    (root / "bench" / "body00" / "sheet.csv").write_text("file,reading,mode\n")
    run_fleet(root, tmp_path / "whole", jobs=2)
    wanted = fleetlab.table_of(tmp_path / "whole")
    errors = (tmp_path / "whole" / "errors.json").read_bytes()
    os.environ["GREYTARE_CACHE"] = str(tmp_path / "other-cache")
    rng = np.random.default_rng(20)
    out = tmp_path / "out"
    killed = 0
    stages = set()
    while killed < KILLS:
        process = start(root, out)
        killed += kill_somewhere(process, out, rng)
        assert all_gone(process.pid)
        check_whole(out)
        stages.add(done(out))
        if process.returncode == 3:
            assert fleetlab.table_of(out) == wanted
            shutil.rmtree(out)
    process = start(root, out)
    assert process.wait(timeout=60) == 3  # one series is bad, and said to be
    assert fleetlab.table_of(out) == wanted
    assert (out / "errors.json").read_bytes() == errors
    left = {p.name for p in out.rglob("*") if p.name.startswith(".") or p.name.endswith(".old")}
    assert left <= {".lock"}
    assert len(stages) > 5
