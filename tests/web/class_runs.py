"""A class on loopback: every student opens the task, moves sliders, answers; how long they wait.

    .venv/bin/python tests/web/class_runs.py 30 60

Students (30) act for so many seconds (60), each about every three seconds, as one who reads, moves
a slider and reads again. Prints the waiting times of every kind of request.
"""

from __future__ import annotations

import contextlib
import os
import random
import re
import signal
import statistics
import subprocess
import sys
import threading
import time
from collections import defaultdict
from collections.abc import Iterator
from html import unescape

import httpx

ADDRESS = "127.0.0.2"
THINK_S = 3.0
SAID = {"size-knee": "0.65", "size-light-drift": "0.4"}


@contextlib.contextmanager
def class_of(students: int, seed: int = 7, difficulty: str = "middle") -> Iterator[str]:
    """Yield the teacher's link of a class that is served until the block ends."""
    serve = ["-c", "from profiler.cli.main import main; main()", "serve", "--phone"]
    running = subprocess.Popen(
        [
            *(sys.executable, *serve, "--teach", str(students), "--hidden", str(seed)),
            *("--difficulty", difficulty, "--address", ADDRESS),
        ],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONUNBUFFERED": "1"},
    )
    try:
        link = ""
        for line in running.stdout or ():
            if found := re.search(r"http://\S+", line):
                link = found[0]
                break
        yield link
    finally:
        running.send_signal(signal.SIGINT)
        running.wait(20)
        if running.stdout is not None:
            running.stdout.close()


def student_links(teacher: httpx.Client) -> list[str]:
    """Return the links that the teacher hands out."""
    return re.findall(r"<p>(http://[^<]+)</p>", unescape(teacher.get("/links").text))


class Student(threading.Thread):
    """Opens the link, turns flags on, moves sliders, answers; notes how long each took."""

    def __init__(self, base: str, link: str, seconds: float, seed: int) -> None:
        super().__init__()
        self.base, self.link, self.seconds = base, link, seconds
        self.draw = random.Random(seed)
        self.waits: dict[str, list[float]] = defaultdict(list)
        self.failures: list[str] = []

    def run(self) -> None:
        """Act until the time is over."""
        with httpx.Client(
            base_url=self.base, headers={"Origin": self.base}, timeout=30, follow_redirects=True
        ) as client:
            until = time.monotonic() + self.seconds
            time.sleep(self.draw.uniform(0.0, min(THINK_S, self.seconds)))
            self._timed("open the task", lambda: client.get(self.link))
            while time.monotonic() < until:
                time.sleep(self.draw.uniform(0.5, 1.5) * THINK_S)
                act = self.draw.random()
                if act < 0.1:
                    self._timed("flags", lambda: client.get("/?flags=1"))
                elif act < 0.2:
                    self._timed("answer", lambda: client.post("/answer", data=SAID))
                elif act < 0.4:
                    self._timed("look", lambda: client.get("/state"))
                else:
                    values = {
                        "drift": f"{self.draw.choice((-0.4, -0.2, 0.0, 0.2, 0.4))}",
                        "headroom": f"{self.draw.randint(15, 50) / 10}",
                        "scatter": f"{self.draw.randint(0, 20) / 100}",
                    }
                    self._timed("slider", lambda v=values: client.get("/teach/answer", params=v))

    def _timed(self, what: str, act) -> None:
        began = time.monotonic()
        answer = act()
        self.waits[what].append(time.monotonic() - began)
        if answer.status_code != 200:
            self.failures.append(f"{what}: {answer.status_code}")


def main() -> None:
    """Print what students waited for."""
    count, seconds = int(sys.argv[1]), float(sys.argv[2])
    with class_of(count) as link:
        base = link.split("/?")[0]
        with httpx.Client(base_url=base, headers={"Origin": base}, timeout=60) as teacher:
            teacher.get(link)
            students = [
                Student(base, each, seconds, n) for n, each in enumerate(student_links(teacher))
            ]
            for student in students:
                student.start()
            for student in students:
                student.join()
    waits: dict[str, list[float]] = defaultdict(list)
    for student in students:
        for what, some in student.waits.items():
            waits[what] += some
    failures = [each for student in students for each in student.failures]
    everything = [each for some in waits.values() for each in some]
    print(f"{count} students, {seconds:g} s, {len(everything)} requests, {len(failures)} failed")
    print("| request | number | median, s | p95, s | longest, s |\n|---|---|---|---|---|")
    for what, some in [*sorted(waits.items()), ("all", everything)]:
        p95 = statistics.quantiles(some, n=20)[-1] if len(some) > 1 else some[0]
        seconds = " | ".join(f"{each:.2f}" for each in (statistics.median(some), p95, max(some)))
        print(f"| {what} | {len(some)} | {seconds} |")


if __name__ == "__main__":
    main()
