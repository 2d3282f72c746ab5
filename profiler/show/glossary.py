"""The words that need explaining, each in one sentence."""

from __future__ import annotations

from typing import Final

GLOSSARY: Final = {
    "series": "raw frames of one grey target, with one body, one lens and one light, "
    "and what the meter showed",
    "label": "the ISO number set on the body; what the sensor really does at it is measured",
    "reading": "what the meter showed, in the meter's own form, with the mode it was read in",
    "placement": "stops of exposure that a frame got above what the meter asked for at the ISO "
    "label; 0 is exactly as metered",
    "clip": "the raw value at which a channel saturates, as measured",
    "aim": "how many stops below clip a metered grey should land",
    "offset": "stops to add to the metered exposure so that the grey lands on the aim; "
    "negative means give less",
    "exposure index (EI)": "the ISO number to set on the meter so that the offset is already "
    "in it; use the one or the other, never both",
    "headroom": "stops from the metered grey up to clip, or up to where the response leaves the "
    "straight line",
    "floor": "the level at which one pixel's signal-to-noise ratio (SNR) falls to a stated limit: "
    "10, or 1",
    "footroom": "stops from the metered grey down to the floor",
    "flag": "a named doubt about a result, with its size and what to do",
}
"""Word -> what it means."""
