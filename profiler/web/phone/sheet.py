"""The one thing that a phone may write: a new sheet in the folder that is served."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from profiler.errors import GreytareError
from profiler.files.atomic import write_whole

_MOST_SHEETS: Final = 20


def write_new_sheet(folder: Path, text: str) -> Path:
    """Write a sheet under the first name that is free: sheet.csv, sheet-2.csv ... ; return it.

    No file is ever written over. GreytareError where there are as many sheets as anybody needs.
    """
    for number in range(1, _MOST_SHEETS + 1):
        path = folder / ("sheet.csv" if number == 1 else f"sheet-{number}.csv")
        if path.exists() or path.is_symlink():
            continue
        write_whole(path, text, replace=False)
        return path
    raise GreytareError(
        f"there are {_MOST_SHEETS} sheets already",
        folder.name,
        "Take away those that aren't needed, at the computer",
    )
