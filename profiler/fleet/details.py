"""What a lab writes down about a series that no file of a camera says."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from datetime import date, datetime
from pathlib import Path
from typing import Any, Final

from profiler.errors import GreytareError, SheetError
from profiler.files.csv_text import Tell, read_csv
from profiler.files.toml import read_toml
from profiler.records import LIGHTS

FILE: Final = "asset.toml"
STATES: Final = ("", "as-found", "as-left")
_DATES: Final = ("date", "received", "meter_certificate_date", "meter_due")


@dataclass(frozen=True, kw_only=True)
class Details:
    """Fields of [asset] in asset.toml; all optional, dates as ISO 8601 text.

    tag: the owner's own number of the body. state: as-found (before) or as-left (after) an
    adjustment. session: series of one session rest on one and the same meter reading. card: number
    of the grey card. light: light class, beats the command's. lab, lab_address: who issues the
    record. customer: name and address of whose body it is. received: day on which it came;
    condition: how it looked then. deviations: from the procedure. external: what of it comes from
    others than the laboratory. authorised_by: who answers for the record.
    """

    tag: str = ""
    date: str = ""
    state: str = ""
    session: str = ""
    card: str = ""
    light: str = ""
    operator: str = ""
    lab: str = ""
    lab_address: str = ""
    place: str = ""
    customer: str = ""
    received: str = ""
    condition: str = ""
    deviations: str = ""
    external: str = ""
    authorised_by: str = ""
    temperature_c: float | None = None
    procedure: str = ""
    meter_certificate: str = ""
    meter_certificate_date: str = ""
    meter_due: str = ""
    note: str = ""


_NAMES: Final = tuple(field.name for field in fields(Details))


def read_details(path: Path) -> dict[str, Any]:
    """Return the fields that the table [asset] of a TOML file sets; SheetError says what is odd."""
    data = read_toml(path, "the file", SheetError)
    table = data.get("asset")
    if not isinstance(table, dict):
        raise SheetError("it has no table [asset]", str(path), "Begin it with the line [asset]")
    return {name: _field(name, value, f"{path}, [asset] {name}") for name, value in table.items()}


def details_of(folder: Path, root: Path) -> Details:
    """Return the details of a series: asset.toml of root, of each folder down, of the series.

    The nearest file wins field by field; the tag counts only from the series' own folder.
    """
    held: dict[str, Any] = {}
    for place in way_down(root, folder):
        path = place / FILE
        if path.is_file():
            held |= read_details(path)
            if place != folder:
                held.pop("tag", None)
    return Details(**held)


def way_down(root: Path, folder: Path) -> list[Path]:
    """Return the folders from `root` down to `folder`, both included."""
    between = folder.relative_to(root).parts
    return [root.joinpath(*between[:n]) for n in range(len(between) + 1)]


def details_from_dict(data: Mapping[str, Any], where: str) -> Details:
    """Return the details that a saved file holds, checked anew."""
    return Details(**{name: _field(name, value, where) for name, value in data.items()})


def plain(details: Details) -> dict[str, Any]:
    """Return the fields that say something, for saving."""
    return {k: v for k, v in asdict(details).items() if v not in ("", None)}


def read_assets(path: Path, tell: Tell | None = None) -> dict[str, str]:
    """Return serial -> tag from a CSV with the columns serial, tag; both stay text."""
    found = read_csv(path, SheetError, "Give a CSV file", tell=tell)
    if not {"serial", "tag"} <= set(found.columns):
        raise SheetError(
            f"its columns are {', '.join(found.columns)}",
            str(path),
            "Name two of them serial and tag",
        )
    tags: dict[str, str] = {}
    for line, row in found.records():
        serial, tag = row["serial"], row["tag"]
        if not serial:
            continue
        if tags.get(serial, tag) != tag:
            raise SheetError(
                f"serial {serial} has the tags {tags[serial]} and {tag}",
                f"{path}, row {line}",
                "Keep one of them",
            )
        tags[serial] = tag
    return tags


def check_date(text: str, where: str) -> str:
    """Return an ISO date (2026-03-01) as it stands; GreytareError where it isn't one."""
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError as error:
        raise GreytareError(f"{text!r} isn't a date", where, "Write it as 2026-03-01") from error


def _field(name: str, value: object, where: str) -> Any:
    if name not in _NAMES:
        near = difflib.get_close_matches(name, _NAMES, n=1)
        mend = f"Perhaps {near[0]} is meant" if near else f"Use {', '.join(_NAMES)}"
        raise SheetError("the field is not known", where, mend)
    if name == "temperature_c":
        if isinstance(value, bool) or not isinstance(value, int | float) or not -90 < value < 90:
            raise SheetError(f"{value!r} isn't a temperature", where, "Write for example 21.5")
        return float(value)
    if name in _DATES and isinstance(value, date):
        return (value.date() if isinstance(value, datetime) else value).isoformat()
    if not isinstance(value, str):
        raise SheetError(
            f"{value!r} isn't text", where, "Put it in quotation marks, so that zeros are kept"
        )
    if name in _DATES and value:
        return check_date(value, where)
    allowed = {"state": STATES, "light": ("", *LIGHTS)}.get(name)
    if allowed is not None and value not in allowed:
        raise SheetError(
            f"{value!r} is not known", where, f"Use {', '.join(filter(None, allowed))}"
        )
    return value.strip()
