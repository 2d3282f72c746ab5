"""Sources of uncertainty in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from profiler.results import Source

SOURCE_WORDS: Final[Mapping[str, str]] = {
    Source.FIT_SCATTER: "scatter of the frames",
    Source.BLACK: "black level",
    Source.CLIP: "clip level",
    Source.STRAIGHTNESS: "straightness",
    Source.METER_REPEATABILITY: "meter repeatability",
    Source.METER_RESOLUTION: "meter display step",
    Source.METER_LINEARITY: "meter linearity",
    Source.LIGHT_DRIFT: "drift of the light",
    Source.APERTURE_MARK: "aperture mark",
    Source.CARD_REFLECTANCE: "card reflectance",
    Source.TIME_RULE: "exact or marked times",
    Source.PATCH_GRADIENT: "gradient on the card",
    Source.ROUNDING: "rounding to codes",
    Source.CLIP_HEADROOM: "clip headroom",
    Source.METER_CONSTANT: "meter constant",
    Source.LENS_TRANSMITTANCE: "lens transmittance",
    Source.PLACE_IN_FRAME: "place in the frame",
    Source.BETWEEN_LABELS: "ISO label between measured ones",
}
"""What a profile's budget holds, as it is shown."""


def source_words(source: str) -> str:
    """Return a source as it is shown; one that a later version named stands as it is."""
    return SOURCE_WORDS.get(source, source)
