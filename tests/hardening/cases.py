"""What is fuzzed: one maker of cases for each kind of input."""

from __future__ import annotations

import contextlib
import io
import os
import shutil
import tempfile
from pathlib import Path

import numpy as np
from harness import Case
from mutate import ODD_WORDS, mutated_frame, mutated_text

from profiler import simulate
from profiler.calibration import pipeline
from profiler.errors import GreytareError

SERIES = Path(tempfile.gettempdir()) / f"greytare-hardening-{os.getuid()}"
"""Where the whole series lies that the cases start from; the cache is beside it."""


def make_series() -> Path:
    """Write the series once; return its folder."""
    folder = SERIES / "series"
    if not (SERIES / "ready").exists():
        shutil.rmtree(SERIES, ignore_errors=True)
        for compression in ("none", "lossless"):
            spec = simulate.standard_series(
                *(simulate.load_body("halden-h2"), 5),
                labels=(400,),
                size=(240, 160),
                compression=compression,
            )
            simulate.write_series(spec, folder.with_name(f"series-{compression}"))
        (SERIES / "ready").write_text("")
    return folder


def frames() -> Case:
    """A frame of a series is damaged: it is refused by name, or the result stands."""
    from profiler.files.sheet import read_sheet
    from profiler.frames.cache import MeasureCache

    base = make_series()
    sources = [base.with_name(f"series-{kind}") for kind in ("none", "lossless")]
    place = Path(tempfile.mkdtemp(prefix="greytare-frames-"))
    cache = MeasureCache(place / "cache")
    started: dict[Path, tuple[list[Path], object, object]] = {}
    for source in sources:
        folder = place / source.name
        shutil.copytree(source, folder)
        sheet = read_sheet(folder / "sheet.csv")
        whole = pipeline.fit(pipeline.measure(folder, sheet, cache=cache), sheet)
        started[folder] = (sorted(folder.glob("*.dng")), sheet, whole.results[0])

    def case(number: int) -> str:
        rng = np.random.default_rng([1, number])
        folder = list(started)[number % 2]
        paths, sheet, true = started[folder]
        path = paths[int(rng.integers(len(paths)))]
        data = path.read_bytes()
        try:
            path.write_bytes(mutated_frame(data, rng))
            found = pipeline.fit(pipeline.measure(folder, sheet, cache=cache), sheet).results[0]
        except GreytareError as error:
            return "refused" if str(error).count("\n") == 0 else f"WRONG: {error}"
        finally:
            path.write_bytes(data)
        return _judged(found, true)

    return case


def _judged(found: object, true: object) -> str:
    """Fine where the two results agree, or where the new one says that something is odd."""
    gap = abs(found.offset_ev.value - true.offset_ev.value)
    wide = max(found.offset_ev.high - found.offset_ev.low, 0.02)
    known = {flag.name for flag in true.flags}
    said = {flag.name for flag in found.flags} - known
    said |= {name for frame in found.frames for name in frame.flags}
    said -= {name for frame in true.frames for name in frame.flags}
    lost = sum(frame.used for frame in found.frames) < sum(frame.used for frame in true.frames)
    if gap <= wide / 2 or said or lost:
        return "fine"
    return f"WRONG: offset {found.offset_ev.value:+.3f}, was {true.offset_ev.value:+.3f}, no flag"


def sheets() -> Case:
    """A sheet is damaged."""
    from profiler.files.sheet import parse_sheet

    text = (make_series().with_name("series-none") / "sheet.csv").read_text()
    text += "IMG_0001.dng,f/8 1/125 ISO 100,spot,100,1/125,8,,0.9,yes,a note\n"

    def case(number: int) -> str:
        parse_sheet(mutated_text(text, np.random.default_rng([2, number])), "sheet.csv")
        return "fine"

    return _refusing(case)


def tables() -> Case:
    """A measured table is damaged, then fitted."""
    from profiler.files.level_table import read_table, write_table
    from profiler.files.sheet import read_sheet

    folder = make_series().with_name("series-none")
    sheet = read_sheet(folder / "sheet.csv")
    text = write_table(pipeline.measure(folder, sheet))
    path = Path(tempfile.mkdtemp(prefix="greytare-tables-")) / "table.csv"

    def case(number: int) -> str:
        changed = mutated_text(text, np.random.default_rng([3, number]))
        path.write_text(changed, encoding="utf-8", errors="surrogatepass")
        pipeline.fit(read_table(path), sheet)
        return "fine"

    return _refusing(case)


def profiles() -> Case:
    """A profile is damaged, then shown and asked."""
    from profiler.files.profile import load_profile, profile_json
    from profiler.files.sheet import read_sheet
    from profiler.fleet.read_rows import profile_rows
    from profiler.show.calibration.profile import describe

    folder = make_series().with_name("series-none")
    sheet = read_sheet(folder / "sheet.csv")
    text = profile_json(pipeline.fit(pipeline.measure(folder, sheet), sheet))
    path = Path(tempfile.mkdtemp(prefix="greytare-profiles-")) / "body.profile.json"

    def case(number: int) -> str:
        rng = np.random.default_rng([4, number])
        changed = mutated_text(text, rng, (",", ":", "\n", "{", "["))
        path.write_text(changed, encoding="utf-8", errors="surrogatepass")
        describe(load_profile(path))
        profile_rows(path, below=path.parent)
        return "fine"

    return _refusing(case)


def toml() -> Case:
    """Files of a body, a meter, tolerances are damaged."""
    from profiler.files.meter import read_meter
    from profiler.fleet.tolerances import read_tolerances
    from profiler.simulate.sensor import load_body, shipped_bodies

    path = Path(tempfile.mkdtemp(prefix="greytare-toml-")) / "x.toml"
    body = shipped_bodies()["halden-h2"].read_text()
    meter = '[meter]\nmake = "Sprig"\nserial = "0007"\nk_cd_m2 = 12.5\nrepeatability_ev = 0.1\n'
    limits = 'rule = "guard-band"\nguard = 1.0\n[tolerances]\noffset_ev = {limit = 0.5}\n'
    kinds = ((body, load_body), (meter, read_meter), (limits, read_tolerances))

    def case(number: int) -> str:
        text, read = kinds[number % 3]
        changed = mutated_text(text, np.random.default_rng([5, number]), ("=", "\n", ",", "."))
        path.write_text(changed, encoding="utf-8", errors="surrogatepass")
        read(path)
        return "fine"

    return _refusing(case)


def readings() -> Case:
    """Readings as people type them, and as nobody does."""
    from profiler.exposure.readings import parse_reading

    forms = (
        *("EV 10.3", "650 lx", "60 fc", "41 cd/m2", "12 fL", "f/8 1/125 ISO 100", "EV 9 5/10"),
        *("f/5.6+3 1/60 ISO 400", "f/11+2 ISO 100", "T2.8 180deg 24fps EI 800", "dark", "f/8₅"),
    )

    def case(number: int) -> str:
        rng = np.random.default_rng([6, number])
        words = forms[int(rng.integers(len(forms)))]
        if number % 4:
            words = mutated_text(words, rng, (" ", "/"), most=1 + number % 3)
        parse_reading(words, "row 1")
        return "fine"

    return _refusing(case)


def options() -> Case:
    """Commands with options of odd values."""
    from profiler.cli.main import greytare

    place = Path(tempfile.mkdtemp(prefix="greytare-options-"))
    os.chdir(place)
    commands = (
        ["convert", "{}"], ["convert", "density", "{}"], ["convert", "f/8 1/60 ISO {}"],
        ["plan", "--iso", "{}", "--reading", "{}", "--mode", "spot"],
        ["mix", "--ambient", "{}", "--flash", "{}", "--iso", "{}"],
        ["simulate", "o", "--frames", "{}", "--iso", "{}", "--scatter", "{}", "--fault", "{}"],
        ["simulate", "o", "--size", "{}x{}", "--seed", "{}", "--body", "{}"],
        ["show", "{}"], ["fit", "{}", "--out", "{}", "--aim", "{}", "--patch", "{}"],
        ["settings", "{}", "{}", "--iso", "{}"], ["place", "{}", "{}"], ["measure", "{}"],
        ["fleet", "table", "{}"], ["fleet", "run", "{}", "--out", "{}", "--jobs", "1"],
    )  # fmt: skip

    def case(number: int) -> str:
        import click

        rng = np.random.default_rng([7, number])
        usual = ("EV 10", "f/8", "1/60", "100", "0.5", "18 %", "spot", "ND64", "3 stops")
        pool = (*ODD_WORDS, *usual)
        words = [
            part.replace("{}", pool[int(rng.integers(len(pool)))])
            for part in commands[number % len(commands)]
        ]
        words = [word.replace("\0", "") for word in words]  # no shell can pass it on
        out = io.StringIO()
        try:
            with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
                greytare.main(words, standalone_mode=False)
        except (click.ClickException, click.exceptions.Exit, click.Abort, OSError):
            return "refused"  # the commands' last resort says an OSError in one sentence
        finally:
            shutil.rmtree(place / "o", ignore_errors=True)
        return "fine"

    return _refusing(case)


def _refusing(case: Case) -> Case:
    def safe(number: int) -> str:
        try:
            return case(number)
        except GreytareError as error:
            text = str(error)
            return "refused" if text and "Traceback" not in text else f"WRONG: {text}"

    return safe


KINDS = {
    "frames": frames,
    "sheets": sheets,
    "tables": tables,
    "profiles": profiles,
    "toml": toml,
    "readings": readings,
    "options": options,
}
