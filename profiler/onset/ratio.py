"""The lighting ratio of two readings, key against fill."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from profiler.errors import about
from profiler.exposure import lighting
from profiler.onset.ask import RatioAsk
from profiler.onset.light_sum import Ledger
from profiler.onset.metered import Metered, read_meter_texts
from profiler.records import Estimate, Meter

_LN2: Final = math.log(2.0)


@dataclass(frozen=True, kw_only=True)
class Ratio:
    """Lighting ratio by both definitions, from key and fill read each alone.

    lighting_ratio: (key + fill) : fill, lit side over shadow side; key_to_fill: key : fill.
    """

    key_over_fill_ev: Estimate
    lighting_ratio: Estimate
    key_to_fill: Estimate
    lit_over_shadow_ev: float


def ratio(key: Metered, fill: Metered) -> Ratio:
    """Return the lighting ratio of two readings.

    (key + fill) : fill is 800 with 200 -> 5:1 (Wikipedia "Lighting ratio", crediting the ASC); an
    older edition of that text has 4:1, which is plain key : fill.
    """
    ledger = Ledger(readings={"key reading": key, "fill reading": fill})
    d = ledger.stops_over(ledger.light("key reading", 0.0), ledger.light("fill reading", 0.0))
    plain = [lighting.key_to_fill(ev) for ev in (d.value, d.low, d.high)]
    return Ratio(
        key_over_fill_ev=d,
        lighting_ratio=Estimate(
            value=plain[0] + 1.0, u=_LN2 * plain[0] * d.u, low=plain[1] + 1.0, high=plain[2] + 1.0
        ),
        key_to_fill=Estimate(value=plain[0], u=_LN2 * plain[0] * d.u, low=plain[1], high=plain[2]),
        lit_over_shadow_ev=lighting.lit_over_shadow_ev(plain[0] + 1.0),
    )


def ratio_of(ask: RatioAsk, meter: Meter) -> Ratio:
    """Return the lighting ratio of two readings as they were typed."""
    with about("key"):
        key = read_meter_texts(ask.key, ask.ambient_mode, meter, where="key")
    with about("fill"):
        fill = read_meter_texts(ask.fill, ask.ambient_mode, meter, where="fill")
    return ratio(key, fill)
