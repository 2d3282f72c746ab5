"""A card to print, fold and keep with the camera."""

from __future__ import annotations

from dataclasses import dataclass

from profiler.calibration.fit.budget import decimals
from profiler.onset.dial import dial
from profiler.records import Estimate
from profiler.results import ProfileData, Result
from profiler.show.report.words import day, serial
from profiler.show.templating import fill, plain
from profiler.show.text import full_name
from profiler.show.words import agrees, half_width, is_spoken, with_sign

ROWS_PER_CARD = 6
"""What a card of the size of a bank card (ISO/IEC 7810 ID-1, 85.60 mm by 53.98 mm) holds."""


@dataclass(frozen=True, kw_only=True)
class CardRow:
    """One ISO label as it stands on the card."""

    iso: str
    mode: str
    ei: str
    rest: str
    give: str
    headroom: str
    footroom: str


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
        margin=_margin(profile),
        bound=any(result.clip_headroom_ev.lower_bound for result in profile.results),
        software=profile.provenance.software,
    )


def card_row(result: Result) -> CardRow:
    """Return one result in the few figures that fit on a card."""
    found = dial(result, result.aim_stops)
    left = found.ei_left_ev if is_spoken(found.ei_left_ev, found.offset_ev) else 0.0
    rest = with_sign(left).replace("-", "−")
    at_most = "≤ " if result.exposure_index.lower_bound else ""
    footroom = result.footroom_ev
    return CardRow(
        iso=f"{result.iso}",
        mode=result.mode,
        ei=f"{at_most}{found.ei_mark:g}",
        rest="0" if left == 0.0 else rest,
        give=_give(result.offset_ev),
        headroom=_stops(result.clip_headroom_ev),
        footroom="-" if footroom is None else _stops(footroom.snr10),
    )


def _give(offset: Estimate) -> str:
    """The offset as a compensation; `0` where meter and body agree."""
    if agrees(offset):
        return "0"
    text = f"{offset.value:+.{_places(offset)}f}".replace("-", "−")
    return f"{'≥ ' if offset.lower_bound else ''}{text}"


def _stops(estimate: Estimate) -> str:
    bound = "≥ " if estimate.lower_bound else ""
    return f"{bound}{estimate.value:.{_places(estimate)}f}".replace("-", "−")


def _margin(profile: ProfileData) -> str:
    """The widest half of a 95 % interval on the card, in stops."""
    half = max((half_width(each.offset_ev) for each in profile.results), default=0.0)
    return f"{max(half, 10.0 ** -decimals(half)):.{decimals(half)}f}"


def _places(estimate: Estimate) -> int:
    return decimals(half_width(estimate))
