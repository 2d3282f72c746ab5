"""A record of one calibration as a page to print."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from profiler.exposure.wording import format_ev
from profiler.flags import meaning
from profiler.fleet.record import DISCLAIMER, UNCERTAINTY, Line, Record
from profiler.fleet.rows import Row
from profiler.records import Flag
from profiler.show.calibration.identity import full_name
from profiler.show.fleet.words import QUANTITY_NAMES, limits_words, share_words
from profiler.show.templating import fill
from profiler.show.words import three_figures

ROOM_MM: Final = 126.0
"""Height of an A4 page that results, verdicts, doubts and file names share."""
ROW_MM, DOUBT_MM, FILE_MM = 4.15, 3.9, 1.35
MOST_ROWS: Final = 22
"""Results and verdicts that fit; beyond, verdicts that are "in" are counted, not listed."""
HEAD: Final = (
    "ISO",
    "mode",
    "light",
    "offset, EV",
    "exposure index",
    "clip headroom, EV",
    "straight up to, EV",
    "footroom SNR 10, EV",
    "clips first",
)


@dataclass(frozen=True, kw_only=True)
class Shown:
    """The texts of a record, ready for a page of any kind."""

    title: str
    identity: tuple[tuple[str, str], ...]
    trace: tuple[tuple[str, str], ...]
    head: tuple[str, ...]
    results: tuple[tuple[str, ...], ...]
    verdicts: tuple[tuple[str, ...], ...]
    others: str
    rule: str
    doubts: tuple[str, ...]
    uncertainty: str
    files: tuple[tuple[str, str], ...]
    left_out: str
    disclaimer: str
    foot: str


def record_page(record: Record) -> str:
    """Return the record as one HTML page that asks for nothing from outside; prints on A4."""
    return fill("fleet_record.html", shown=shown(record))


def shown(record: Record) -> Shown:
    """Return the texts of a record; what nobody wrote down is shown as a line to fill in."""
    profile, details = record.profile, record.details
    camera, meter = profile.camera, profile.meter
    constants = (
        f"K {meter.k_cd_m2:g} cd/m², C {meter.c_flat_lx:g} lx flat, {meter.c_dome_lx:g} lx dome"
    )
    verdicts = [row for line in record.lines for row in _verdicts(line)]
    others = ""
    if len(record.lines) + len(verdicts) > MOST_ROWS:
        listed = [row for row in verdicts if row[-1] != "in"]
        others = f"{len(verdicts) - len(listed)} more quantities are in." if verdicts else ""
        verdicts = listed
    doubts = _doubts(record.lines)
    room = ROOM_MM - ROW_MM * (len(record.lines) + len(verdicts)) - DOUBT_MM * len(doubts)
    files = list(record.files.items())
    kept = files if len(files) * FILE_MM <= room else files[:2]
    temperature = "" if details.temperature_c is None else f"{details.temperature_c:g} °C"
    state = {"as-found": "as found", "as-left": "as left"}.get(details.state, "")
    return Shown(
        title="Record of a calibration: camera body and handheld meter",
        identity=(
            ("Body", full_name(camera.make, camera.model)),
            ("Serial", camera.serial),
            ("Asset tag", record.asset_tag),
            ("Lens", profile.lens.model),
            ("Meter", full_name(meter.make, meter.model)),
            ("Meter serial", meter.serial),
            ("Meter constants", constants),
            ("Readings", _readings(record)),
        ),
        trace=(
            ("Calibrated on", record.day),
            ("State", state),
            ("Meter certificate", details.meter_certificate),
            ("Certificate date", details.meter_certificate_date),
            ("Meter due", details.meter_due),
            ("Procedure", details.procedure),
            ("Grey card", details.card),
            ("Temperature", temperature),
            ("Place", ", ".join(filter(None, (details.lab, details.place)))),
            ("Operator", details.operator),
        ),
        head=HEAD,
        results=tuple(_result(line.row) for line in record.lines),
        verdicts=tuple(verdicts),
        others=others,
        rule=_rule(record),
        doubts=doubts,
        uncertainty=UNCERTAINTY,
        files=tuple(kept),
        left_out=f"and {len(files) - len(kept)} files more, whose SHA-256 stand in the profile"
        if len(kept) < len(files)
        else "",
        disclaimer=DISCLAIMER,
        foot=f"Record {record.number}, series {record.series}, issued {record.issued} "
        f"by {record.software}",
    )


def _result(row: Row) -> tuple[str, ...]:
    return (
        str(row.iso),
        row.mode,
        row.light,
        _number(row, "offset_ev", sign=True),
        f"{'at most ' if row.lower_bound else ''}{three_figures(row.exposure_index)}",
        _number(row, "clip_headroom_ev"),
        _number(row, "linear_headroom_ev"),
        _number(row, "footroom_snr10_ev"),
        row.first_to_clip,
    )


def _number(row: Row, quantity: str, *, sign: bool = False) -> str:
    value = row.value(quantity)
    if value is None:
        return "not measured"
    text = f"{value.value:+.2f}" if sign else f"{value.value:.2f}"
    return f"{'at least ' if value.lower_bound else ''}{text} ± {value.expanded:.2f}"


def _verdicts(line: Line) -> list[tuple[str, ...]]:
    out: list[tuple[str, ...]] = []
    for one in line.judged:
        chance = "not known" if one.probability is None else share_words(one.probability)
        out.append(
            (
                f"ISO {line.row.iso}, {line.row.mode}, {line.row.light}",
                QUANTITY_NAMES[one.quantity],
                format_ev(one.value_ev).removesuffix(" EV"),
                f"{one.expanded_ev:.2f}",
                limits_words(one.low_ev, one.high_ev),
                f"{one.guard_ev:.2f}",
                chance,
                one.verdict,
            )
        )
    return out


def _rule(record: Record) -> str:
    if not record.rule:
        return "No tolerances were stated, so no verdict is given."
    valid = f" Verdicts expire on {record.expires}." if record.expires else ""
    return f"{record.rule}.{valid}"


def _doubts(lines: Sequence[Line]) -> tuple[str, ...]:
    found: dict[str, list[str]] = {}
    for line in lines:
        for name in filter(None, line.row.flags.split(";")):
            found.setdefault(name, []).append(str(line.row.iso))
    return tuple(
        f"ISO {', '.join(dict.fromkeys(isos))}: {meaning(Flag(name=name, size=0.0))}"
        for name, isos in found.items()
    )


def _readings(record: Record) -> str:
    parts = [
        f"{mode}: {', '.join(texts[:3])}{' ...' if len(texts) > 3 else ''}"
        for mode, texts in record.profile.provenance.readings.items()
    ]
    return "; ".join(parts)
