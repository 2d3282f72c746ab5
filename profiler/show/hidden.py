"""Hidden faults as answers: what can be wrong, what was, and how it could be seen."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from profiler.exposure.wording import format_time
from profiler.records import FrameMeasure
from profiler.results import ProfileData, Result
from profiler.show import words
from profiler.show.answer import Answer, Fact, Table
from profiler.show.calibration.result import result_answer
from profiler.simulate.hidden import Hidden, Judged, mistyped_frame


@dataclass(frozen=True, kw_only=True)
class Clue:
    """A fault in the words of a list to choose from, its unit, and how it could be seen."""

    name: str
    unit: str
    seen: str


CLUES: Final = {
    "light-drift": Clue(
        name="the light rises or falls steadily",
        unit="EV over the series",
        seen="in the order of shooting the residuals lie on a slope; one reading at the start "
        "can't know of it. A second reading at the end would have told",
    ),
    "mains-flicker": Clue(
        name="the light pulses with the mains",
        unit="depth, part of the light",
        seen="rows of one frame differ (column “rows”), most at times shorter than a period; "
        "times of whole periods, 1/50 or 1/100\u00a0s, lie on the line",
    ),
    "mistyped-reading": Clue(
        name="one reading was written down wrong",
        unit="EV",
        seen="one frame lies off the line by itself while its twin at the same time lies on it; "
        "its reading in the sheet is the odd one",
    ),
    "shutter-scatter": Clue(
        name="the shutter scatters from frame to frame",
        unit="EV rms",
        seen="residuals scatter widely without any order; even the two frames of one time differ",
    ),
    "shutter-late": Clue(
        name="the shutter closes late, so short times give too much",
        unit="EV at 1/1000 s",
        seen="residuals rise towards the shortest times, twice as much for half the time; it "
        "looks like a black that is too low",
    ),
    "knee": Clue(
        name="the response bends before it clips",
        unit="part of the range where it begins",
        seen="the brightest frames under clip fall below the line, all channels at the same level",
    ),
    "clip-channel": Clue(
        name="green clips at a lower code than the other channels",
        unit="EV",
        seen="green ends on a lower level than red and blue; compare the clip codes",
    ),
    "card-gradient": Clue(
        name="the card is lit from one side",
        unit="EV over the frame",
        seen="the level changes across the patch by the same part in every frame (column “across”)",
    ),
    "noise-reduction": Clue(
        name="the raw was smoothed",
        unit="weight of each neighbour",
        seen="neighbours differ by less (column “neighbours”) than the pixels of a patch do "
        "(column “noise”); in a clean raw both are alike",
    ),
    "digital-push": Clue(
        name="codes were multiplied, which leaves gaps",
        unit="EV",
        seen="a part of the codes is never used (column “codes left out”)",
    ),
    "pattern-noise": Clue(
        name="the fixed pattern is strong",
        unit="part of the signal",
        seen="in bright frames the noise of a patch (column “noise”) is far above that of a pair "
        "(column “pair”), for the pattern is the same in both frames of it",
    ),
}
"""Fault -> its clue; every kind that can be hidden has one."""

_DIRECTIONS: Final = {
    "light-drift": (", falling", ", rising"),
    "mistyped-reading": (", too high", ", too low"),
}


def size_words(name: str, size: float) -> str:
    """Return a size with its unit, and its direction in words where the fault has two.

    >>> size_words("light-drift", 0.41), size_words("mistyped-reading", -0.6)
    ('0.41 EV over the series, falling', '0.6 EV, too low')
    """
    shown = f"{abs(size):.2g}"
    more, less = _DIRECTIONS.get(name, ("", ""))
    return f"{shown} {CLUES[name].unit}{more if size > 0.0 else less}"


def task_answer(
    profile: ProfileData, frames: Sequence[FrameMeasure], *, with_flags: bool
) -> Answer:
    """Return what was measured, without a word of what is true; flags only on demand."""
    found = profile.results[0]
    answer = result_answer(found)
    return replace(
        answer,
        topic="",
        tables=(*answer.tables[:1], frames_table(found, frames)),
        rows=(),
        notes=answer.notes if with_flags else (),
        missing=answer.missing if with_flags else (),
    )


def frames_table(result: Result, frames: Sequence[FrameMeasure]) -> Table:
    """Return one row per frame: what a careful eye can read out of it."""
    measured = {frame.file: frame for frame in frames}
    rows = []
    for number, frame in enumerate(result.frames, start=1):
        name = max(frame.level_dn, key=lambda each: frame.level_dn[each])
        cell = measured[frame.file].channels[name]
        time = measured[frame.file].tags.time_s
        signal = max(cell.mean_dn - result.channels[name].black_dn, 1.0)
        pair = cell.temporal_variance_dn2
        rows.append(
            (
                f"{number}",
                "–" if time is None else format_time(float(time.value)).removesuffix(" s"),
                words.with_sign(frame.placement_ev, 1),
                f"{cell.mean_dn:.0f}",
                "–" if frame.residual_ev is None else words.with_sign(frame.residual_ev, 2),
                f"{words.number(100.0 * (cell.slope_across_dn or 0.0) / signal, 0)} %",
                f"{100.0 * cell.row_banding * cell.mean_dn / signal:.1f} %",
                f"{math.sqrt(max(cell.variance_dn2, 0.0)):.0f}",
                f"{math.sqrt(max(cell.neighbour_variance_dn2, 0.0)):.0f}",
                "–" if pair is None else f"{math.sqrt(max(pair, 0.0)):.0f}",
                f"{100.0 * cell.gap_share:.0f} %",
            )
        )
    return Table(
        caption="Frames as shot, brightest channel",
        head=(
            *("frame", "time, s", "placement, EV", "level, DN", "off the line, EV"),
            *("across", "rows", "noise, DN", "neighbours, DN", "pair, DN", "codes left out"),
        ),
        rows=tuple(rows),
        numbers=tuple(range(1, 11)),
        long=True,
    )


def judged_answer(judged: Sequence[Judged]) -> Answer:
    """Return how many were found, then for each fault the truth and how it could be seen."""
    there = [each for each in judged if each.true_size is not None]
    found = [each for each in there if each.found]
    right = [each for each in found if each.size_right]
    wrong = [each for each in judged if each.true_size is None]
    parts = [f"{len(found)} of {words.count(len(there), 'fault')} found"]
    if found:
        parts.append(f"{words.count(len(right), 'size')} right")
    if wrong:
        parts.append(f"{len(wrong)} named that {'is' if len(wrong) == 1 else 'are'} not there")
    return Answer(
        headline=f"{', '.join(parts)}.",
        tables=(
            Table(
                caption="What was wrong, and what was said",
                head=("fault", "size", "said", "verdict"),
                rows=tuple(_judged_row(each) for each in judged),
            ),
        ),
        rows=tuple(Fact(name=CLUES[e.name].name, text=CLUES[e.name].seen) for e in there),
    )


def key_rows(hidden: Hidden) -> tuple[tuple[str, str, str], ...]:
    """Return fault, size, how it could be seen, for each that a series hides."""
    rows = []
    for name, size in hidden.faults:
        frame = mistyped_frame(hidden) if name == "mistyped-reading" else None
        where = "" if frame is None else f", frame {frame}"
        rows.append((CLUES[name].name, f"{size_words(name, size)}{where}", CLUES[name].seen))
    return tuple(rows)


def key_answer(hidden: Hidden) -> Answer:
    """Return what a seed hides, for the teacher."""
    count = words.count(len(hidden.faults), "fault")
    return Answer(
        headline=f"Seed {hidden.seed}, {hidden.difficulty}: {count}.",
        tables=(
            Table(
                caption="",
                head=("fault", "size"),
                rows=tuple(row[:2] for row in key_rows(hidden)),
            ),
        ),
        rows=tuple(Fact(name=name, text=seen) for name, _, seen in key_rows(hidden)),
    )


def _judged_row(judged: Judged) -> tuple[str, str, str, str]:
    true = "not there" if judged.true_size is None else size_words(judged.name, judged.true_size)
    said = "–" if judged.said_size is None else f"{abs(judged.said_size):g}"
    if judged.true_size is None:
        verdict = "not there"
    elif judged.said_size is None:
        verdict = "missed"
    else:
        verdict = "found, size right" if judged.size_right else "found, another size"
    return CLUES[judged.name].name, true, said, verdict
