"""Walks every fault through real raw files and the whole measurement.

.venv/bin/python tests/calibration/faults_walk.py     prints the table of the README
"""

from __future__ import annotations

import json
import tempfile
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from duties import DUTIES

from profiler import simulate
from profiler.calibration import pipeline
from profiler.errors import GreytareError
from profiler.files.sheet import read_sheet
from profiler.frames.cache import MeasureCache

SEED = 1


@dataclass(frozen=True)
class Outcome:
    """What became of one faulty series: worst error over its interval, flags, or the message.

    held: no label's interval, or bound, leaves the truth outside.
    """

    error_ev: float
    half_ev: float
    flags: frozenset[str]
    refused: str
    held: bool = True


def walk(
    name: str,
    folder: Path,
    seed: int = SEED,
    *,
    size: float | None = None,
    pixels: tuple[int, int] = (480, 320),
) -> Outcome:
    """Return the outcome of a paired series at three labels with one fault built in.

    size: of the fault, by default the one that the table of duties names.
    """
    spec = simulate.standard_series(
        simulate.load_body("halden-h2"),
        seed,
        pairs=True,
        darks=2,
        size=pixels,
        shutter_scatter_ev=0.02,
    )
    if name:
        spec = simulate.FAULTS[name].apply(spec, DUTIES[name].size if size is None else size)
    cache = MeasureCache(folder / "cache")
    try:
        files = simulate.write_series(spec, folder / "series")
        sheet = read_sheet(files.sheet)
        measurement = pipeline.measure(files.folder, sheet, cache=cache)
        profile = pipeline.fit(measurement, sheet, light=spec.scene.light)
    except GreytareError as error:
        return Outcome(0.0, 0.0, frozenset(), str(error))
    finally:
        cache.close()
    truth = json.loads(files.truth.read_text())["results"]
    worst = (0.0, 1.0)
    held = True
    for result, true in zip(profile.results, truth, strict=True):
        error = result.offset_ev.value - true["offset_ev"]
        half = 0.5 * (result.offset_ev.high - result.offset_ev.low)
        if abs(error) / half > abs(worst[0]) / worst[1]:
            worst = (error, half)
        held &= error <= half if result.offset_ev.lower_bound else abs(error) <= half
    flags = frozenset(flag.name for result in profile.results for flag in result.flags)
    return Outcome(*worst, flags, "", held)


def _walk_alone(name: str) -> Outcome:
    with tempfile.TemporaryDirectory() as folder:
        return walk(name, Path(folder))


def row(name: str, outcome: Outcome) -> str:
    """Return the fault's line in the table."""
    fault, duty = simulate.FAULTS[name], DUTIES[name]
    size = fault.size if duty.size is None else duty.size
    shown = f"{size:g} {fault.unit}" if fault.unit else ""
    moved = "" if outcome.refused else f"{outcome.error_ev:+.2f} ± {outcome.half_ev:.2f}"
    says = {
        "survive": "stays inside the interval",
        "flag": "flag " + ", ".join(f"`{s}`" for s in duty.says if s in outcome.flags),
        "refuse": f"refuses: “… {duty.says[0] if duty.says else ''} …”",
        "unseen": f"can't see it. {duty.says[0] if duty.says else ''}",
    }[duty.kind]
    return f"| `{name}` | {shown} | {fault.what} | {moved} | {says} |"


def main() -> None:
    """Print the table."""
    print("| fault | size | what happens | offset off by, interval (EV) | greytare |")
    print("|---|---|---|---|---|")
    with ProcessPoolExecutor(2) as pool:
        for name, outcome in zip(DUTIES, pool.map(_walk_alone, DUTIES), strict=True):
            print(row(name, outcome), flush=True)


if __name__ == "__main__":
    main()
