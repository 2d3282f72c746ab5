"""A kind whose cases go wrong in every way, to see whether the harness notices.

A module of its own, because the harness starts processes that must find it by name.
"""

from __future__ import annotations

import os
import time

import harness


def broken_kind() -> harness.Case:
    """Return the case: fine, a traceback, a crash, a hang and a wrong number, in turn."""

    def case(number: int) -> str:
        if number == 1:
            raise KeyError(number)
        if number == 2:
            os._exit(7)
        if number == 3:
            time.sleep(30)
        return "WRONG: a number" if number == 4 else "fine"

    return case
