"""What a printed record of one calibration says."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Final

from profiler import __version__
from profiler.files.profile import load_profile
from profiler.files.regular import read_bytes
from profiler.fleet.batch.store import read_about
from profiler.fleet.decide import Judged, judge
from profiler.fleet.details import Details, details_from_dict
from profiler.fleet.read_rows import profile_rows
from profiler.fleet.rows import Row
from profiler.fleet.rules import describe
from profiler.fleet.tolerances import Tolerances
from profiler.results import ProfileData

DISCLAIMER: Final = (
    "This record is not an accredited calibration certificate, and nobody has assessed who made it."
)
UNCERTAINTY: Final = (
    "Uncertainties are expanded ones, U, for a coverage probability of 95 %, from a budget after "
    "JCGM 100:2008 (GUM); the profile holds every source of it."
)


@dataclass(frozen=True, kw_only=True)
class Line:
    """One result with the verdicts on its quantities, empty without tolerances."""

    row: Row
    judged: tuple[Judged, ...]


@dataclass(frozen=True, kw_only=True)
class Record:
    """All that a record says. number: the first digits of the profile's SHA-256.

    files: name -> SHA-256 of profile, sheet and frames. rule: the decision rule in words, empty
    without tolerances; expires: ISO date, empty without an interval.
    """

    number: str
    series: str
    asset_tag: str
    profile: ProfileData
    details: Details
    day: str
    issued: str
    software: str
    lines: tuple[Line, ...]
    rule: str
    expires: str
    files: Mapping[str, str]


def make_record(
    path: Path,
    *,
    below: Path | None = None,
    tolerances: Tolerances | None = None,
    assets: Mapping[str, str] | None = None,
    today: date,
) -> Record:
    """Return the record of the profile at `path`, with what is known about it from beside it."""
    profile = load_profile(path)
    about = read_about(path) or {}
    rows = profile_rows(path, below=below or path.parent, assets=assets)
    details = details_from_dict(about.get("details", {}), str(path))
    judged = _judge(rows, tolerances, today)
    digest = hashlib.sha256(read_bytes(path)).hexdigest()
    files = {path.name: digest}
    sheet = profile.provenance.sheet_sha256 or str(about.get("sheet_sha256", ""))
    if sheet:
        files[profile.provenance.sheet or "sheet.csv"] = sheet
    files |= {frame.file: frame.sha256 for frame in profile.provenance.frames}
    return Record(
        number=digest[:12],
        series=rows[0].series if rows else path.stem,
        asset_tag=rows[0].asset_tag if rows else details.tag,
        profile=profile,
        details=details,
        day=details.date or profile.provenance.created[:10],
        issued=today.isoformat(),
        software=f"greytare {__version__}",
        lines=tuple(
            Line(row=row, judged=tuple(one for one in judged if one.row == row)) for row in rows
        ),
        rule="" if tolerances is None else describe(tolerances.rule),
        expires=min((one.expires for one in judged if one.expires), default=""),
        files=files,
    )


def _judge(rows: Sequence[Row], tolerances: Tolerances | None, today: date) -> Sequence[Judged]:
    if tolerances is None:
        return ()
    return judge(rows, tolerances, today, none_holds=True)
