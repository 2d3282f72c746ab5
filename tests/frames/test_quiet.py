"""Native error output is dropped, Python's is not."""

from __future__ import annotations

import subprocess
import sys

SCRIPT = """
import os, sys, threading
from profiler.frames.decode import quiet_native_stderr

def native(text):
    os.write(2, text.encode())

native("before ")
with quiet_native_stderr():
    native("dropped1 ")
    print("python", end=" ", file=sys.stderr)
    with quiet_native_stderr():
        native("dropped2 ")
    native("dropped3 ")
    def work():
        with quiet_native_stderr():
            native("dropped4 ")
    threads = [threading.Thread(target=work) for _ in range(8)]
    [t.start() for t in threads]
    [t.join() for t in threads]
    native("dropped5 ")
native("after ")
try:
    with quiet_native_stderr():
        raise ValueError("inside")
except ValueError:
    native("error ")
print("end", file=sys.stderr)
"""


def test_only_native_output_is_dropped() -> None:
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT], capture_output=True, text=True, check=True
    )
    assert done.stderr.split() == ["before", "python", "after", "error", "end"]


def test_works_without_an_error_stream() -> None:
    script = "import os; os.close(2)\n" + SCRIPT.replace("native(", "str(").replace(
        "def str(text):\n    os.write(2, text.encode())", ""
    )
    script = script.replace('print("python", end=" ", file=sys.stderr)', "pass")
    script = script.replace('print("end", file=sys.stderr)', 'print("end")')
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "end"
