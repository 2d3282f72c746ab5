"""Many connections to the page at once, slow and broken ones among them; loopback only.

    python tests/hardening/load.py [CONNECTIONS]

Starts a page of its own in an empty folder; prints p50 and p99 of the answers, and its memory.
"""

from __future__ import annotations

import http.client
import os
import re
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path


class Page:
    """A page that runs in a process of its own, and the cookie that lets in."""

    def __init__(self) -> None:
        self.folder = tempfile.TemporaryDirectory(prefix="greytare-load-")
        words = ["serve", self.folder.name, "--no-browser"]
        self.process = subprocess.Popen(
            [sys.executable, "-c", "from profiler.cli.main import main; main()", *words],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            env=os.environ | {"GREYTARE_CACHE": f"{self.folder.name}/.cache"},
        )
        assert self.process.stdout is not None
        found = re.search(r"http://127.0.0.1:(\d+)/\?token=(\S+)", self.process.stdout.readline())
        assert found is not None
        self.port = int(found[1])
        client = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        client.request("GET", f"/?token={found[2]}")
        self.cookie = client.getresponse().getheader("set-cookie", "").split(";")[0]
        client.close()

    def get(self, path: str) -> tuple[int, float]:
        """Status of an answer, and seconds that it took."""
        started = time.perf_counter()
        client = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        client.request("GET", path, headers={"Cookie": self.cookie})
        answer = client.getresponse()
        answer.read()
        client.close()
        return answer.status, time.perf_counter() - started

    def post(self, size: int) -> int:
        """Status of a form of so many bytes; 0 where the page ends the connection on it."""
        client = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        headers = {"Cookie": self.cookie, "Origin": f"http://127.0.0.1:{self.port}"}
        headers["Content-Type"] = "application/json"

        def pieces():
            for _ in range(size >> 16):
                yield b" " * (1 << 16)

        try:
            client.request("POST", "/series/sheet", pieces(), headers, encode_chunked=True)
            return client.getresponse().status
        except OSError:
            return 0
        finally:
            client.close()

    def memory_mb(self) -> int:
        """Memory that the page's own process holds."""
        status = Path(f"/proc/{self.process.pid}/status").read_text()
        return int(re.search(r"VmRSS:\s+(\d+)", status)[1]) >> 10  # type: ignore[index]

    def half_open(self, count: int, head: bytes) -> float:
        """Open connections that never end their request; seconds until the page has ended all."""
        held = []
        for _ in range(count):
            each = socket.create_connection(("127.0.0.1", self.port))
            each.sendall(head)
            held.append(each)
        started = time.perf_counter()
        for each in held:
            each.settimeout(60)
            while each.recv(4096):
                pass
            each.close()
        return time.perf_counter() - started

    def close(self) -> int:
        """End it as Ctrl-C does; return its exit code."""
        self.process.send_signal(signal.SIGINT)
        code = self.process.wait(20)
        self.folder.cleanup()
        return code


def percentiles(page: Page, path: Callable[[int], str], count: int) -> tuple[float, float, float]:
    """p50, p95 and p99 in s of `count` requests that start at once; all must be answered."""
    with ThreadPoolExecutor(count) as pool:
        found = list(pool.map(lambda k: page.get(path(k)), range(count)))
    assert {status for status, _ in found} == {200}, {status for status, _ in found}
    cuts = statistics.quantiles([spent for _, spent in found], n=100, method="inclusive")
    return cuts[49], cuts[94], cuts[98]


def main() -> None:
    """Print what each kind of load takes."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    page = Page()
    try:
        page.get("/teach/answer")  # the workers have started
        before = page.memory_mb()
        for name, path, n in (
            ("series page", lambda k: "/series", count),
            ("simulated series, a class of 30 at one setting", lambda k: "/teach/answer", 30),
            ("the same at 30 settings", lambda k: f"/teach/answer?seed={k}", 30),
        ):
            p50, p95, p99 = percentiles(page, path, n)
            print(f"{n} at once, {name}: p50 {p50:.2f} s, p95 {p95:.2f} s, p99 {p99:.2f} s")
        for name, head in (("no byte", b""), ("half a head", b"GET / HTTP/1.1\r\nHost: x\r\n")):
            print(
                f"{count} connections with {name}: ended after {page.half_open(count, head):.1f} s"
            )
        body = (
            b"POST /series/sheet HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nOrigin: http://127.0.0.1:%d\r\n"
        )
        body = body % (page.port, page.port) + f"Cookie: {page.cookie}\r\n".encode()
        spent = page.half_open(count, body + b"Content-Length: 100\r\n\r\n{")
        print(f"{count} connections with half a body: ended after {spent:.1f} s")
        print(f"a body of 300 MB: status {page.post(300 << 20)} (0: connection ended)")
        status, spent = page.get("/series")
        print(f"afterwards: status {status} in {spent:.2f} s")
        print(f"memory: {before} MB before, {page.memory_mb()} MB after")
    finally:
        print(f"exit code {page.close()}")


if __name__ == "__main__":
    main()
