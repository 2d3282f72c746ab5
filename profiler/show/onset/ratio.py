"""A lighting ratio as an answer, by both definitions."""

from __future__ import annotations

from profiler.onset.ratio import Ratio
from profiler.records import Estimate
from profiler.show import words
from profiler.show.answer import Answer, facts


def ratio_answer(found: Ratio) -> Answer:
    """Return the lighting ratio of key and fill, said both ways."""
    both, plain = found.lighting_ratio, found.key_to_fill
    return Answer(
        headline=f"Lighting ratio {both.value:.1f}:1 as (key + fill) : fill; "
        f"key : fill is {plain.value:.1f}:1.",
        figures=facts(
            [
                ("(key + fill) : fill", f"{_span(both)}, lit side to shadow side"),
                ("key : fill", _span(plain)),
                ("key over fill", words.stops(found.key_over_fill_ev, "over", "under")),
                ("lit over shadow", words.amount(found.lit_over_shadow_ev, "over", "under")),
            ]
        ),
        closing=(f"Key and fill were each read alone. {words.INTERVALS}",),
    )


def _span(ratio: Estimate) -> str:
    """Return a ratio with its interval: `5.0:1 (4.6 to 5.5)`."""
    return f"{ratio.value:.1f}:1 ({ratio.low:.1f} to {ratio.high:.1f})"
