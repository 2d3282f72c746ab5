"""Fuzzes one kind of input, kills and races writers; prints one line with what came.

    python tests/hardening/run.py frames 10000 [FIRST]
    python tests/hardening/run.py kills 1000

Kinds: frames, sheets, tables, profiles, toml, readings, options; kills, races, disk. The number of
a case makes it again: `run.py frames 1 4711`.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import harness
from cases import KINDS
from disk import DISK


def main() -> int:
    """Run what the command line asks for."""
    kind, count = sys.argv[1], int(sys.argv[2])
    first = int(sys.argv[3]) if len(sys.argv) > 3 else 0
    if kind in DISK:
        said, failed = DISK[kind](count)
        print(f"{kind} {count}: {said}", flush=True)
        return int(failed)
    tally = harness.run(KINDS[kind], range(first, first + count))
    counts = ", ".join(f"{n} {name}" for name, n in sorted(tally.counts.items()))
    print(
        f"{kind} {count} from {first}: {counts}; slowest {tally.slowest_s:.1f} s, "
        f"peak {tally.peak_mb} MB, {tally.seconds:.0f} s in all",
        flush=True,
    )
    for number, outcome in tally.bad:
        print(f"  {number}: {outcome}")
    return int(tally.failed > 0)


if __name__ == "__main__":
    sys.exit(main())
