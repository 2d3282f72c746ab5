"""The command that opens the page."""

from __future__ import annotations

import socket
import subprocess
import sys

import httpx
import pytest


def serve(*words):
    return subprocess.run(
        [sys.executable, "-c", "from profiler.cli.main import main; main()", "serve", *words],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("/nothing/here",), "there is no such folder"),
        (("--port", "{taken}"), "the port can't be used"),
    ],
)
def test_what_can_not_be_opened_is_said_in_one_sentence(tmp_path, words, said):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        taken = other.getsockname()[1]
        done = serve("--no-browser", *(word.format(taken=taken) for word in words))
    assert done.returncode == 1
    assert said in done.stderr
    assert done.stderr.startswith("greytare: ")
    assert done.stderr.count("\n") == 1
    assert done.stdout == ""


def test_it_answers_on_this_machine_alone(served):
    """The port is bound to 127.0.0.1; nothing answers under the machine's other addresses."""
    assert httpx.get(served.base).status_code == 403
    others = {info[4][0] for info in socket.getaddrinfo(socket.gethostname(), None)}
    for address in others - {"127.0.0.1", "::1"}:
        with pytest.raises(OSError, match=r"refused|unreachable|timed out|assign"):
            socket.create_connection((address, served.port), timeout=2.0).close()


def test_two_pages_have_two_tokens(served, calibrated, open_page):
    with open_page(calibrated) as other:
        assert other.token != served.token
        assert len(other.token) >= 40
        answer = httpx.get(other.base + "/", params={"token": served.token})
        assert answer.status_code == 403
