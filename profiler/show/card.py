"""A card to print, fold and keep with the camera."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from profiler.onset.dial import dial
from profiler.records import Estimate
from profiler.results import ProfileData, Result
from profiler.show.calibration.bars import READ, bars_of
from profiler.show.calibration.identity import day, full_name, serial
from profiler.show.doubts import doubts_of, short_doubt
from profiler.show.drawing import drawing
from profiler.show.meter import rest_ev
from profiler.show.templating import fill, plain
from profiler.show.words import agrees, compact, half_width, half_words, listed, with_sign

ROWS_PER_CARD = 6
"""What a card of the size of a bank card (ISO/IEC 7810 ID-1, 85.60 mm by 53.98 mm) holds."""


@dataclass(frozen=True, kw_only=True)
class CardRow:
    """One ISO label as it stands on the card; doubted: its interval isn't to be relied on."""

    iso: str
    mode: str
    ei: str
    rest: str
    give: str
    headroom: str
    footroom: str
    doubted: bool


def card_page(profile: ProfileData) -> str:
    """Return one HTML file with a card per six results; asks for nothing from outside."""
    rows = [card_row(result) for result in profile.results]
    camera, meter = profile.camera, profile.meter
    lights = dict.fromkeys(result.light for result in profile.results)
    aims = dict.fromkeys(f"{result.aim_stops:.2f}" for result in profile.results)
    return fill(
        "card.html",
        style=plain("card.css"),
        body=full_name(camera.make, camera.model) or "body not named",
        body_serial=camera.serial,
        lens=profile.lens.model or "not named",
        meter=(full_name(meter.make, meter.model) or "not named") + serial(meter.serial),
        constants=f"K {meter.k_cd_m2:g} cd/m², C {meter.c_flat_lx:g} / {meter.c_dome_lx:g} lx "
        "(flat / dome)",
        light=", ".join(lights),
        aim=f"grey {', '.join(aims)} stops below clip",
        date=day(profile),
        modes=", ".join(dict.fromkeys(result.mode for result in profile.results)),
        cards=[rows[k : k + ROWS_PER_CARD] for k in range(0, len(rows), ROWS_PER_CARD)],
        margin=half_words(max(_shown(profile), key=half_width)),
        doubts=listed(
            list(dict.fromkeys(short_doubt(flag) for r in profile.results for flag in doubts_of(r)))
        ),
        bound=any(result.clip_headroom_ev.lower_bound for result in profile.results),
        bars=drawing(bars_of(profile)),
        bars_read=READ,
        software=profile.provenance.software,
    )


def _shown(profile: ProfileData) -> Iterator[Estimate]:
    """All estimates that a card shows without their intervals."""
    for result in profile.results:
        yield from (result.offset_ev, result.clip_headroom_ev)
        if result.footroom_ev is not None:
            yield result.footroom_ev.snr10


def card_row(result: Result) -> CardRow:
    """Return one result in the few figures that fit on a card; 0 where nothing is to be given."""
    found = dial(result, result.aim_stops)
    at_most = "≤ " if found.offset_ev.lower_bound else ""
    footroom = result.footroom_ev
    return CardRow(
        iso=f"{result.iso}",
        mode=result.mode,
        ei=f"{at_most}{found.ei_mark:g}",
        rest=with_sign(rest_ev(found)).replace("-", "−") if rest_ev(found) else "0",
        give="0" if agrees(found.offset_ev) else compact(found.offset_ev, sign=True),
        headroom=compact(result.clip_headroom_ev),
        footroom="-" if footroom is None else compact(footroom.snr10),
        doubted=bool(doubts_of(result)),
    )
