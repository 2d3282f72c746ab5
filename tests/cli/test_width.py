"""Text in a terminal ends at its edge; in a file no line is broken."""

from __future__ import annotations

import fcntl
import os
import pty
import struct
import subprocess
import sys
import termios

COMMAND = (sys.executable, "-c", "from profiler.cli.main import main; main()", "convert", "EV 12")


def in_a_terminal(columns: int) -> list[str]:
    """Lines that a terminal of that width gets."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 40, columns, 0, 0))
    with subprocess.Popen(COMMAND, stdout=theirs) as process:
        os.close(theirs)
        text = b""
        while part := _read(ours):
            text += part
    os.close(ours)
    assert process.returncode == 0
    return text.decode().replace("\r\n", "\n").splitlines()


def _read(descriptor: int) -> bytes:
    try:
        return os.read(descriptor, 65536)
    except OSError:  # the other end is closed
        return b""


def test_lines_end_at_the_edge_of_a_terminal_and_are_whole_in_a_file():
    whole = subprocess.run(COMMAND, capture_output=True, text=True, check=True).stdout.splitlines()
    longest = max(map(len, whole))
    narrow, wide = in_a_terminal(50), in_a_terminal(longest + 1)
    assert longest > 50 >= max(map(len, narrow))
    assert wide == whole
    assert " ".join(narrow).split() == " ".join(whole).split()
