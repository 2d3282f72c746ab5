"""The fleet's table as a pandas frame, to files and back."""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from profiler.errors import GreytareError, ProfileError
from profiler.fleet.absent import Left, series_left
from profiler.fleet.batch.store import profile_folder
from profiler.fleet.columns import TEXTS, Rows, column
from profiler.fleet.index import Index, find_profiles
from profiler.fleet.read_rows import profile_rows
from profiler.fleet.rows import COLUMNS, KINDS, Row
from profiler.fleet.rowsfile import read_rows_csv, row_from, rows_csv

if TYPE_CHECKING:
    from pandas import DataFrame

SQL_TABLE: Final = "results"
SQLITE: Final = (".sqlite", ".sqlite3", ".db")
_DTYPES: Final = {
    "str": "string",
    "int": "int64",
    "float": "float64",
    "float | None": "float64",
    "bool": "bool",
}


@dataclass(frozen=True, kw_only=True)
class Shelf:
    """All results of a fleet in table order, path -> error of profiles that can't be read, and the
    series that the last run left without a result."""

    rows: Rows
    wrong: Mapping[Path, GreytareError]
    left: tuple[Left, ...] = ()

    def lost_zeros(self, assets: Mapping[str, str]) -> dict[str, str]:
        """Return serial in a list of assets -> the one it is without its zeros in front.

        Only where no body has it as it stands, and just one has it with zeros before.
        """
        known = self.rows.text("camera_serial").used
        bare: dict[str, list[str]] = {}
        for serial in known:
            bare.setdefault(serial.lstrip("0"), []).append(serial)
        return {
            serial: bare[serial][0]
            for serial in assets
            if serial not in known and len(bare.get(serial, [])) == 1
        }


def load_shelf(source: str | Path, assets: Mapping[str, str] | None = None) -> Shelf:
    """Return the fleet of a folder of profiles, one profile, a table file or a database URL."""
    if "://" in str(source):
        return Shelf(rows=tagged(rows_of(_read_sql(str(source))), assets), wrong={})
    path = Path(source)
    if path.is_dir():
        below = profile_folder(path)
        index = Index(below)
        index.look()
        if not index.series():
            find_profiles(below)  # says that there is none
        return Shelf(
            rows=tagged(index.rows(), assets),
            wrong=index.wrong(),
            left=series_left(path, index.runs),
        )
    if not path.exists():
        raise ProfileError(
            "there is no such file or folder", str(path), "Give profiles or a table of them"
        )
    if path.suffix == ".json":
        rows = profile_rows(path, below=path.parent)
        return Shelf(rows=tagged(rows, assets), wrong={})
    return Shelf(rows=tagged(read_table(path), assets), wrong={})


def tagged(rows: Sequence[Row], assets: Mapping[str, str] | None) -> Rows:
    """Return the rows in table order, with the tags of a list of assets (serial -> tag), if any."""
    import numpy as np

    table = Rows.of(rows)
    if assets and len(table):
        serials = table.text("camera_serial")
        known = np.array([assets.get(serial) for serial in serials.values], dtype=object)
        tags = known[serials.codes]
        tags = np.where(tags.astype(bool), tags, table.text("asset_tag").array)
        table = table.replaced(asset_tag=column("asset_tag", tags.tolist()))
    return table.sorted()


def frame(rows: Sequence[Row]) -> DataFrame:
    """Return the rows as a frame, sorted, one column per field of Row; text stays text."""
    import pandas as pd

    table = Rows.of(rows).sorted()
    made = {
        name: table.text(name).array if name in TEXTS else table.number(name) for name in COLUMNS
    }
    return pd.DataFrame(made).astype({name: _DTYPES[kind] for name, kind in KINDS.items()})


def rows_of(table: DataFrame) -> list[Row]:
    """Return the rows that a frame holds; ProfileError names the row and column that is wrong."""
    missing = [name for name in COLUMNS if name not in table.columns]
    if missing:
        raise ProfileError(
            f"the table lacks the column {missing[0]!r}",
            "the table",
            "Give one written by: {greytare fleet table}",
        )
    columns = [table[name].tolist() for name in COLUMNS]
    return [
        row_from(dict(zip(COLUMNS, values, strict=True)), f"row {number}")
        for number, values in enumerate(zip(*columns, strict=True), start=1)
    ]


def save_table(rows: Sequence[Row], place: str | Path, *, replace: bool = False) -> Path | None:
    """Write the table to CSV, Parquet, SQLite (by the ending) or a database URL (SQLAlchemy).

    Returns where an older file was kept. A file is written whole or not at all.
    """
    from profiler.files.atomic import write_whole

    if "://" in str(place):
        _write_sql(rows, str(place), replace)
        return None
    path = Path(place)
    kind = path.suffix.lower()
    if kind == ".csv":
        return write_whole(path, rows_csv(rows), replace=replace)
    if kind == ".parquet":
        buffer = io.BytesIO()
        frame(rows).to_parquet(buffer, engine="pyarrow", index=False)
        return write_whole(path, buffer.getvalue(), replace=replace)
    if kind in SQLITE:
        base = sqlite3.connect(":memory:")
        try:
            frame(rows).to_sql(SQL_TABLE, base, index=False, dtype=_sql_types())
            return write_whole(path, base.serialize(), replace=replace)
        finally:
            base.close()
    raise GreytareError(
        f"a table can't be written as {path.suffix or 'a file without an ending'}",
        str(path),
        "End its name in .csv, .parquet or .sqlite",
    )


def read_table(path: Path) -> list[Row]:
    """Return the rows of a table file."""
    kind = path.suffix.lower()
    if kind == ".csv":
        return read_rows_csv(path)
    if kind == ".parquet":
        return rows_of(_read_parquet(path))
    if kind in SQLITE:
        return rows_of(_read_sqlite(path))
    raise ProfileError(
        f"a table can't be read from {path.suffix or 'a file without an ending'}",
        str(path),
        "Give a .csv, .parquet or .sqlite file",
    )


def _read_parquet(path: Path) -> DataFrame:
    import pandas as pd

    try:
        return pd.read_parquet(path, engine="pyarrow")
    except (OSError, ValueError) as error:
        raise ProfileError(
            f"the table isn't a Parquet file ({error})", str(path), "Make the table anew"
        ) from error


def _read_sqlite(path: Path) -> DataFrame:
    import pandas as pd

    try:
        base = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)
        try:
            return pd.read_sql_query(f"SELECT * FROM {SQL_TABLE}", base)
        finally:
            base.close()
    except (sqlite3.Error, pd.errors.DatabaseError) as error:
        raise ProfileError(
            f"it holds no table {SQL_TABLE!r} ({error})", str(path), "Make the table anew"
        ) from error


def _write_sql(rows: Sequence[Row], url: str, replace: bool) -> None:
    engine, errors = _engine(url)
    try:
        frame(rows).to_sql(
            SQL_TABLE, engine, index=False, if_exists="replace" if replace else "fail"
        )
    except ValueError as error:
        raise GreytareError(
            f"it holds a table {SQL_TABLE!r} already", url, "Name another base, or add {replace}"
        ) from error
    except errors as error:
        raise GreytareError(
            f"the base refuses ({error})", url, "Check address and rights"
        ) from error
    finally:
        engine.dispose()


def _read_sql(url: str) -> DataFrame:
    import pandas as pd

    engine, errors = _engine(url)
    try:
        return pd.read_sql_table(SQL_TABLE, engine)
    except (ValueError, errors) as error:
        raise ProfileError(
            f"it holds no table {SQL_TABLE!r} ({error})",
            url,
            "Write it with: {greytare fleet table}",
        ) from error
    finally:
        engine.dispose()


def _engine(url: str) -> tuple[Any, type[Exception]]:
    try:
        from sqlalchemy import create_engine
        from sqlalchemy.exc import SQLAlchemyError
    except ImportError as error:
        raise GreytareError(
            "SQLAlchemy is not installed", url, "Install it: pip install 'greytare[sql]'"
        ) from error
    try:
        return create_engine(url), SQLAlchemyError
    except (SQLAlchemyError, ImportError) as error:
        raise GreytareError(
            f"the address can't be used ({error})", url, "Write it as sqlite:////full/path.sqlite"
        ) from error


def _sql_types() -> dict[str, str]:
    kinds = {"str": "TEXT", "int": "INTEGER", "bool": "INTEGER"}
    return {name: kinds.get(kind, "REAL") for name, kind in KINDS.items()}
