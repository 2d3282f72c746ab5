"""What raw development has to add, as an answer and as CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import Final

from profiler.files.csv_text import safe_cell
from profiler.onset.development import Development
from profiler.show import words
from profiler.show.answer import Answer, Note, Table
from profiler.show.meter import BRIGHTER

_MEANING: Final = (
    "The correction is for frames exposed as the meter says at the ISO label. Where the offset is "
    "already in the exposure (by the EI or a compensation) it is none.",
    "It multiplies linear raw values from black: +1 doubles them. DNG's BaselineExposure has the "
    "same sign and unit: by how many EV the zero point of the exposure compensation moves, "
    "positive is brighter. A raw developer that applies a BaselineExposure of its own for this "
    "body has that part already; its tone curve decides what the grey then looks like.",
    "NoiseProfile: standard deviation of one pixel = sqrt(scale x + offset), x from 0 at black to "
    "1 at clip; planes in the order R, G, B, the two greens pooled.",
)
_COLUMNS: Final = (
    *("iso", "mode", "light", "correction_ev", "correction_low_ev", "correction_high_ev"),
    *("grey_of_clip", "aimed_of_clip"),
    *(f"noise_{part}_{plane}" for plane in "RGBY" for part in ("scale", "offset")),
)


def development_answer(found: Sequence[Development]) -> Answer:
    """Return the correction of each ISO label with what it means, then the noise pairs."""
    unseen = [f"ISO {one.iso}, {one.mode}" for one in found if one.correction_ev is None]
    notes = [
        Note(
            text=f"{', '.join(unseen)}: clip was not seen, so the correction isn't known. "
            f"{BRIGHTER}.",
            warns=True,
        )
    ]
    return Answer(
        headline=_headline(found),
        tables=(
            Table(
                caption="Exposure correction in raw development",
                head=("ISO label", "mode, light", "correction, stops", "grey before", "after"),
                rows=tuple(_row(one) for one in found),
                numbers=(0, 2, 3, 4),
            ),
            Table(
                caption="NoiseProfile",
                head=("ISO label", "mode, light", "scale and offset per plane"),
                rows=tuple(
                    (f"{one.iso}", f"{one.mode}, {one.light}", _pairs(one)) for one in found
                ),
                numbers=(0,),
            ),
        ),
        notes=tuple(notes if unseen else ()),
        closing=(*_MEANING, words.INTERVALS),
    )


def development_csv(found: Sequence[Development]) -> str:
    """Return the same as CSV, one row a result; what isn't known is an empty cell."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(_COLUMNS)
    for one in found:
        ev = one.correction_ev
        shift = [""] * 3 if ev is None else [f"{v:.4f}" for v in (ev.value, ev.low, ev.high)]
        pairs = [
            f"{getattr(one.noise_profile[plane], part):.6g}" if plane in one.noise_profile else ""
            for plane in "RGBY"
            for part in ("scale", "offset")
        ]
        grey = [f"{one.grey_of_clip:.5f}", f"{one.aimed_of_clip:.5f}"]
        writer.writerow([one.iso, safe_cell(one.mode), safe_cell(one.light), *shift, *grey, *pairs])
    return text.getvalue()


def _headline(found: Sequence[Development]) -> str:
    known = [one for one in found if one.correction_ev is not None]
    if not known:
        return "No correction is known, for clip was not seen at any ISO label."
    said = "; ".join(f"ISO {one.iso} {_brighter(one)}" for one in known[:4])
    more = f"; {len(known) - 4} more below" if len(known) > 4 else ""
    return f"In raw development give a metered grey, by ISO label: {said}{more}."


def _brighter(one: Development) -> str:
    return words.stops(one.correction_ev, "brighter", "darker")


def _row(one: Development) -> tuple[str, ...]:
    ev = one.correction_ev
    seen = "at most " if ev is None else ""
    return (
        f"{one.iso}",
        f"{one.mode}, {one.light}",
        words.UNKNOWN if ev is None else words.signed(ev),
        f"{seen}{100.0 * one.grey_of_clip:.1f} % of clip",
        f"{100.0 * one.aimed_of_clip:.1f} % of clip",
    )


def _pairs(one: Development) -> str:
    return (
        "; ".join(f"{p} {n.scale:.3g}, {n.offset:.3g}" for p, n in one.noise_profile.items())
        or "not measured (shoot two of each frame)"
    )
