"""A record of one calibration as a page to print."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from profiler.exposure.stops import nearest_iso_mark
from profiler.exposure.wording import format_ev
from profiler.flags import meaning
from profiler.fleet.record import (
    DISCLAIMER,
    ITEM_ONLY,
    METHOD,
    UNCERTAINTY,
    WHOLE,
    FoundLeft,
    Line,
    Record,
)
from profiler.fleet.rows import Row
from profiler.records import Flag
from profiler.show.calibration.identity import full_name
from profiler.show.fleet.words import OWN_DOUBTS, QUANTITY_NAMES, limits_words, share_words
from profiler.show.templating import fill
from profiler.show.words import three_figures

HEAD: Final = (
    "ISO",
    "mode",
    "light",
    "offset, EV",
    "k",
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
    number: str
    parties: tuple[tuple[str, str], ...]
    dates: tuple[tuple[str, str], ...]
    identity: tuple[tuple[str, str], ...]
    trace: tuple[tuple[str, str], ...]
    head: tuple[str, ...]
    results: tuple[tuple[str, ...], ...]
    pairs: tuple[tuple[str, ...], ...]
    verdicts: tuple[tuple[str, ...], ...]
    rule: str
    doubts: tuple[str, ...]
    uncertainty: str
    item_only: str
    files: tuple[tuple[str, str], ...]
    disclaimer: str
    whole: str
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
    temperature = "" if details.temperature_c is None else f"{details.temperature_c:g} °C"
    state = {"as-found": "as found", "as-left": "as left"}.get(details.state, "")
    return Shown(
        title="Record of a calibration: camera body and handheld meter",
        number=record.number,
        identity=(
            ("Body", full_name(camera.make, camera.model)),
            ("Serial", camera.serial),
            ("Asset tag", record.asset_tag),
            ("Lens", profile.lens.model),
            ("Meter", full_name(meter.make, meter.model)),
            ("Meter serial", meter.serial),
            ("Meter constants", constants),
            ("Readings", _readings(record)),
            ("Condition", details.condition),
            ("State", state),
        ),
        parties=(
            ("Laboratory", details.lab),
            ("Address", details.lab_address),
            ("Customer", details.customer),
            ("Place of the check", details.place),
            ("Operator", details.operator),
            ("Authorised by", details.authorised_by),
        ),
        dates=(
            ("Received on", details.received),
            ("Checked on", record.day),
            ("Issued on", record.issued),
        ),
        trace=(
            ("Method", f"{METHOD}; {record.software}"),
            ("Meter certificate", _certificate(record)),
            ("Certificate date", details.meter_certificate_date),
            ("Meter due", details.meter_due),
            ("Procedure", details.procedure),
            ("Grey card", details.card),
            ("Temperature", temperature),
            ("Deviations", details.deviations),
            ("From others", details.external),
        ),
        head=HEAD,
        results=tuple(_result(line.row) for line in record.lines),
        pairs=tuple(_pair(pair) for pair in record.pairs),
        verdicts=tuple(row for line in record.lines for row in _verdicts(line)),
        rule=_rule(record),
        doubts=_doubts(record.lines),
        uncertainty=UNCERTAINTY,
        item_only=ITEM_ONLY,
        files=tuple(record.files.items()),
        disclaimer=DISCLAIMER,
        whole=WHOLE,
        foot=f"Record {record.number}, series {record.series}, issued {record.issued} "
        f"by {record.software}",
    )


def _result(row: Row) -> tuple[str, ...]:
    return (
        str(row.iso),
        row.mode,
        row.light,
        _number(row, "offset_ev", sign=True),
        _coverage(row),
        _exposure_index(row),
        _number(row, "clip_headroom_ev"),
        _number(row, "linear_headroom_ev"),
        _number(row, "footroom_snr10_ev"),
        row.first_to_clip,
    )


def _coverage(row: Row) -> str:
    """The coverage factor k of the offset."""
    value = row.value("offset_ev")
    return "" if value is None or value.u == 0.0 else f"{value.expanded / value.u:.2f}"


def _exposure_index(row: Row) -> str:
    """The EI to set on a meter, then the exact one with its 95 % interval."""
    if row.lower_bound:
        return f"at most {three_figures(row.exposure_index_high)}"
    low, high = three_figures(row.exposure_index_low), three_figures(row.exposure_index_high)
    mark = nearest_iso_mark(row.exposure_index).marked
    return f"{mark:g} (exact {three_figures(row.exposure_index)}, {low} to {high})"


def _certificate(record: Record) -> str:
    """The meter's certificate, and whether it had run out."""
    said = record.details.meter_certificate
    if any(line.row.certificate_expired for line in record.lines):
        said = f"{said or 'not named'}: HAD RUN OUT on the day of the check"
    return said


def _pair(pair: FoundLeft) -> tuple[str, ...]:
    """One result as found and as left, side by side."""
    return (
        f"ISO {pair.left.iso}, {pair.left.mode}, {pair.left.light}",
        pair.found.date,
        _number(pair.found, "offset_ev", sign=True),
        _exposure_index(pair.found),
        pair.left.date,
        _number(pair.left, "offset_ev", sign=True),
        _exposure_index(pair.left),
        f"{pair.change_ev:+.2f} ± {pair.half_ev:.2f}",
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
    valid = f" By the interval that was agreed they expire on {record.expires}."
    return f"{record.rule}. Verdicts of {record.judged}.{valid if record.expires else ''}"


def _doubts(lines: Sequence[Line]) -> tuple[str, ...]:
    found: dict[str, list[str]] = {}
    for line in lines:
        for name in filter(None, line.row.flags.split(";")):
            found.setdefault(name, []).append(str(line.row.iso))
    own = dict.fromkeys(name for line in lines for name in line.row.own_doubts)
    return (
        *(f"{OWN_DOUBTS[name]}." for name in own),
        *(
            f"ISO {', '.join(dict.fromkeys(isos))}: {meaning(Flag(name=name, size=0.0))}"
            for name, isos in found.items()
        ),
    )


def _readings(record: Record) -> str:
    parts = [
        f"{mode}: {', '.join(texts[:3])}{' ...' if len(texts) > 3 else ''}"
        for mode, texts in record.profile.provenance.readings.items()
    ]
    return "; ".join(parts)
