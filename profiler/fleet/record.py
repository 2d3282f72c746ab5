"""What a printed record of one calibration says."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Final

from profiler import __version__
from profiler.files.profile import load_profile
from profiler.files.regular import read_bytes
from profiler.fleet.batch.store import read_about
from profiler.fleet.columns import Rows
from profiler.fleet.compare import difference, usable
from profiler.fleet.decide import Judged, counted, judge, moment
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
    "Uncertainties are expanded ones, U = k u, for a coverage probability of 95 %, from a budget "
    "after JCGM 100:2008 (GUM); the profile holds every source of it."
)
ITEM_ONLY: Final = "The results relate only to the item named above, with this lens and meter."
WHOLE: Final = "Copies are to be whole, unless the laboratory agrees to a part."
"""Common on records (a note to ISO/IEC 17025:2017, 7.8.2.1)."""
METHOD: Final = (
    "Bracketed raw frames of a grey target against the readings of the meter; straight-line "
    "response by generalised least squares; ISO 12232 for the saturation speed"
)


@dataclass(frozen=True, kw_only=True)
class Line:
    """One result with the verdicts on its quantities, empty without tolerances."""

    row: Row
    judged: tuple[Judged, ...]


@dataclass(frozen=True, kw_only=True)
class FoundLeft:
    """One result before and after an adjustment; change: left less found, with half of its 95 %
    interval (EV)."""

    found: Row
    left: Row
    change_ev: float
    half_ev: float


@dataclass(frozen=True, kw_only=True)
class Record:
    """All that a record says, after ISO/IEC 17025:2017, 7.8.2.1 a to p, 7.8.4.1 and 7.8.6.2.

    Read in public texts: qm-dag.pages.dev/topics/ISO17025 for 7.8.2, GOST ISO/IEC 17025-2019 (the
    same standard; consultant.ru, LAW_489901) for 7.8.4. Sampling (h, k) has no place here.

    number: the first digits of the profile's SHA-256. day: of the check, empty where nobody knows;
    judged: the day that verdicts hold for. pairs: as found and as left.

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
    judged: str
    pairs: tuple[FoundLeft, ...]
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
    fleet: Sequence[Row] = (),
    today: date,
    issued: date | None = None,
) -> Record:
    """Return the record of the profile at `path`, with what is known about it from beside it.

    fleet: among which the result before or after an adjustment is looked for. today: the day that
    verdicts hold for. issued: now, unless a test wants another day: no option dates it back.
    """
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
        day=details.date or profile.provenance.taken[:10],
        issued=(issued or datetime.now(UTC).date()).isoformat(),
        judged=today.isoformat(),
        pairs=tuple(_found_left(rows, fleet)),
        software=f"greytare {__version__}",
        lines=tuple(
            Line(row=row, judged=tuple(one for one in judged if one.row == row)) for row in rows
        ),
        rule="" if tolerances is None else describe(tolerances.rule),
        expires=min((one.expires for one in judged if one.expires), default=""),
        files=files,
    )


def _found_left(rows: Sequence[Row], fleet: Sequence[Row]) -> Iterator[FoundLeft]:
    """Each result with the one on the other side of its adjustment, by the same meter."""
    stated = Rows.of(fleet)
    stated = stated.take(~stated.text("state").are("") & counted(stated))
    stated = stated.take(stated.text("camera_serial").are(*{row.camera_serial for row in rows}))
    others = list(stated)
    for row in rows:
        beyond = [
            other
            for other in others
            if other.state
            and other.state != row.state
            and row.state
            and (other.body, other.case, other.meter, other.aim_stops)
            == (row.body, row.case, row.meter, row.aim_stops)
        ]
        if row.state == "as-left":
            before = [other for other in beyond if other.date <= row.date]
            pair = (max(before, key=moment), row) if before else None
        else:
            after = [other for other in beyond if other.date >= row.date]
            pair = (row, min(after, key=moment)) if after else None
        if pair is not None and all(usable(each, "offset_ev") for each in pair):
            change = difference(pair[1], pair[0], "offset_ev")
            yield FoundLeft(
                found=pair[0],
                left=pair[1],
                change_ev=change.value_ev,
                half_ev=0.5 * (change.high_ev - change.low_ev),
            )


def _judge(rows: Sequence[Row], tolerances: Tolerances | None, today: date) -> Sequence[Judged]:
    if tolerances is None:
        return ()
    return judge(rows, tolerances, today, none_holds=True)
