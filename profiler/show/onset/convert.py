"""A conversion as an answer: the main figures, then every line with its rule."""

from __future__ import annotations

from typing import Final

from profiler.onset.conversion import Conversion
from profiler.show.answer import Answer, facts

_HEADS: Final = {"light": ("EV at ISO 100", "luminance", "illuminance")}


def convert_answer(found: Conversion) -> Answer:
    """Return all that a quantity stands for."""
    names = _HEADS.get(found.kind, ())
    chosen = [line for line in found.lines if line.name in names] or found.lines[:2]
    shown = ", ".join(f"{line.name} = {line.text}" for line in chosen)
    return Answer(
        headline=f"{found.text}: {shown}.",
        figures=facts(
            (line.name, line.text + (f"   [{line.rule}]" if line.rule else ""))
            for line in found.lines
        ),
        closing=("Exact arithmetic; a reading keeps its own ± 0.1 EV and a mark its step.",),
    )
