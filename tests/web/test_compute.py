"""Workers of the page: all of them there before a class asks."""

from __future__ import annotations

import multiprocessing

from profiler.web.compute import Compute


def test_all_workers_start_with_the_first_question() -> None:
    """Else the second one starts, for half a second, while thirty students wait."""
    before = set(multiprocessing.active_children())
    compute = Compute(workers=2)
    try:
        assert compute.ask(divmod, 7, 2) == (3, 1)
        assert len(set(multiprocessing.active_children()) - before) == 2
    finally:
        compute.close()
