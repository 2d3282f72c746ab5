"""Writers that are killed, that race each other, and that find no room."""

from __future__ import annotations

import os
import random
import resource
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from profiler.errors import GreytareError
from profiler.files.atomic import sweep, write_whole

BYTES = 3_000_000


def kills(count: int) -> tuple[str, bool]:
    """Kill a process that replaces one file again and again; the file must be whole each time."""
    place = Path(tempfile.mkdtemp(prefix="greytare-kills-"))
    target = place / "body.profile.json"
    contents = [bytes([65 + k]) * BYTES for k in range(4)]
    write_whole(target, contents[0])
    inside = half = lost = 0
    rng = random.Random(1)
    for number in range(count):
        child = os.fork()
        if child == 0:
            try:
                while True:
                    write_whole(target, contents[number % 4], replace=True)
            finally:
                os._exit(1)
        time.sleep(rng.uniform(0.001, 0.02))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        inside += any(place.glob(".greytare-*.part"))
        half += target.read_bytes() not in contents
        sweep(place)
        lost += any(place.glob(".greytare-*.part"))
        for old in place.glob("*.old"):
            half += old.read_bytes() not in contents
            old.unlink()
    shutil.rmtree(place)
    said = f"{inside} inside the write, {half} half files, {lost} left-overs after the sweep"
    return said, half > 0 or lost > 0


def races(count: int) -> tuple[str, bool]:
    """Let four processes write one file at once, by turns with and without replacing it."""
    place = Path(tempfile.mkdtemp(prefix="greytare-races-"))
    lost = twice = 0
    for number in range(count):
        folder = place / str(number)
        folder.mkdir()
        target = folder / "a.json"
        replace = number % 2 == 1
        if replace:
            target.write_text("before")
        wins = _at_once(4, lambda k, t=target, r=replace: write_whole(t, str(k) * 1000, replace=r))
        found = sorted(path.read_text() for path in folder.iterdir())
        if replace:
            expected = sorted(["before", *(str(k) * 1000 for k in range(4))])
            lost += found != expected or wins != 4
        else:
            twice += wins != 1
            lost += len(found) != 1
        shutil.rmtree(folder)
    shutil.rmtree(place)
    return f"{twice} with two winners, {lost} with a file lost", twice + lost > 0


def _at_once(count: int, write: Callable[[int], object]) -> int:
    """Fork `count` writers that start together; return how many said that they had written."""
    start = time.monotonic() + 0.02
    children = []
    for k in range(count):
        child = os.fork()
        if child == 0:
            code = 1
            try:
                time.sleep(max(0.0, start - time.monotonic()))
                write(k)
                code = 0
            except GreytareError:
                code = 2
            finally:
                os._exit(code)
        children.append(child)
    return sum(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0 for child in children)


def disk(count: int) -> tuple[str, bool]:
    """Write onto a file system of 1 MB (needs root) until it is full; nothing may be lost."""
    place = Path(tempfile.mkdtemp(prefix="greytare-disk-"))
    subprocess.run(["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(place)], check=True)
    refused = wrong = 0
    try:
        for number in range(count):
            target = place / "a.json"
            before = target.read_bytes() if target.exists() else None
            content = bytes([65 + number % 26]) * (100_000 + 37_000 * (number % 30))
            try:
                write_whole(target, content, replace=True)
                wrong += target.read_bytes() != content
            except GreytareError:
                refused += 1
                wrong += (target.read_bytes() if target.exists() else None) != before
            wrong += any(place.glob(".greytare-*"))
            for old in place.glob("*.old"):
                old.unlink()
    finally:
        subprocess.run(["umount", str(place)], check=True)
        place.rmdir()
    return f"{refused} refused, {wrong} wrong", wrong > 0 or refused == 0


def limited_file_size(write: Callable[[], object], most: int = 100_000) -> int:
    """Run `write` in a child whose files may not grow beyond `most` bytes; return its exit code."""
    child = os.fork()
    if child == 0:
        code = 1
        try:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
            write()
            code = 0
        except GreytareError:
            code = 2
        finally:
            os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


DISK = {"kills": kills, "races": races, "disk": disk}
