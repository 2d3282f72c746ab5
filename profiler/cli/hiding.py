"""Series with hidden faults, for one student or a class."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from profiler.cli import options, progress
from profiler.errors import GreytareError

if TYPE_CHECKING:
    from profiler.show.class_sheets import Pupil
    from profiler.simulate.hidden import Difficulty, Hidden


def hide(
    out_dir: Path | None,
    seed: int,
    difficulty: Difficulty,
    students: int | None,
    key: Path | None,
    *,
    reveal: bool,
    size: tuple[int, int],
    compression: str,
    replace: bool,
) -> None:
    """Write a task, or a folder of them with sheets to print; or tell what a seed hides."""
    from profiler.files.atomic import write_whole
    from profiler.show.class_sheets import tasks_page
    from profiler.simulate import hidden as hidden_faults

    seeds = (seed,) if students is None else hidden_faults.class_seeds(seed, students)
    tasks = [hidden_faults.hide(each, difficulty) for each in seeds]
    if key is not None:
        _write_key(key, tasks, seed, out_dir, replace)
    if reveal:
        _reveal(tasks, alone=students is None)
    if out_dir is None:
        if key is None and not reveal:
            raise click.UsageError("Missing argument 'OUT_DIR'.")
        return
    if students is None:
        _write(tasks[0], out_dir, size, compression, replace)
        click.echo(f"{out_dir} holds the series and its sheet. What is wrong is told by:")
    else:
        names = folder_names(len(tasks))
        for name, task in zip(names, tasks, strict=True):
            _write(task, out_dir / name, size, compression, replace)
        sheets = [_seen(task, out_dir / name) for name, task in zip(names, tasks, strict=True)]
        write_whole(out_dir / "tasks.html", tasks_page(sheets), replace=replace)
        click.echo(
            f"{out_dir} holds {students} folders and tasks.html to print. What is wrong is told by:"
        )
    more = "" if students is None else f" --students {students}"
    click.echo(f"greytare simulate --hidden {seed} --difficulty {difficulty}{more} --reveal")


def folder_names(count: int) -> list[str]:
    """Return the folder of each student: student-01 and so on."""
    return [f"student-{number:02d}" for number in range(1, count + 1)]


def _write(
    task: Hidden, folder: Path, size: tuple[int, int], compression: str, replace: bool
) -> None:
    from profiler.simulate.hidden import hidden_series
    from profiler.simulate.write import write_series

    spec = hidden_series(task, size=size, compression=compression)
    with progress.frame_bar(f"writing {folder.name}") as update:
        write_series(spec, folder, update, overwrite=replace, with_key=False)


def _seen(task: Hidden, folder: Path) -> Pupil:
    """A student's series as it is measured from its files."""
    from profiler.calibration import pipeline
    from profiler.files.sheet import read_sheet
    from profiler.show.class_sheets import Pupil

    sheet = read_sheet(folder / "sheet.csv")
    try:
        measured = pipeline.measure(folder, sheet)
        profile = pipeline.fit(measured, sheet, light="daylight")
    except GreytareError:  # which the student meets as well
        return Pupil(folder=folder.name, hidden=task)
    return Pupil(folder=folder.name, hidden=task, profile=profile, frames=measured.frames)


def _write_key(
    path: Path, tasks: list[Hidden], seed: int, out_dir: Path | None, replace: bool
) -> None:
    from profiler.show.class_sheets import Pupil, key_page

    if out_dir is not None and path.resolve().is_relative_to(out_dir.resolve()):
        raise GreytareError(
            "the key would lie among the files of the students", str(path), "Name another folder"
        )
    names = folder_names(len(tasks))
    pupils = [Pupil(folder=n, hidden=task) for n, task in zip(names, tasks, strict=True)]
    options.write(path, key_page(pupils, seed), f"Key written to {path}", replace=replace)


def _reveal(tasks: list[Hidden], *, alone: bool) -> None:
    from profiler.show.hidden import key_answer

    for name, task in zip(folder_names(len(tasks)), tasks, strict=True):
        if not alone:
            click.echo(name)
        options.say(key_answer(task))
        click.echo()
