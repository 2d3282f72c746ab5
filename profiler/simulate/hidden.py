"""Series with one to three faults that nothing in file or sheet names, to be found by students."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from profiler.errors import GreytareError
from profiler.simulate.faults import FAULTS
from profiler.simulate.sensor import load_body
from profiler.simulate.series import SeriesSpec, standard_series

Difficulty = Literal["easy", "middle", "hard"]
DIFFICULTIES: Final[tuple[Difficulty, ...]] = ("easy", "middle", "hard")
ISO: Final = 400
MODE: Final = "spot"
_FRAMES: Final = 9
_OVER_CLIP: Final = 4
"""The last frames of a standard series, with two of each exposure, lie over clip."""
_SPREAD: Final = 0.1
"""Sizes differ from those of the list by up to this part, so that no two students have the same."""
_SCATTER_EV: Final = 0.015
_BODY_EV: Final = 0.4
"""The body's sensitivity differs from the usual one by up to this, to keep its result unknown."""
_MOST_STUDENTS: Final = 200


@dataclass(frozen=True, kw_only=True)
class HiddenKind:
    """A fault that can be hidden, with its size for each difficulty.

    group: of one group a series gets one fault at most, for two would look like one. signed: it
    goes either way.
    """

    name: str
    group: str
    easy: float
    middle: float
    hard: float
    signed: bool = False

    @property
    def choices(self) -> tuple[float, ...]:
        """Sizes to choose from, smallest first."""
        return tuple(sorted({self.easy, self.middle, self.hard}))

    @property
    def unit(self) -> str:
        """Unit of the sizes."""
        return FAULTS[self.name].unit

    def nearest(self, size: float) -> float:
        """Return the size of the list that a true size belongs to; its sign doesn't count."""
        return min(self.choices, key=lambda choice: abs(choice - abs(size)))


KINDS: Final = {
    kind.name: kind
    for kind in (
        HiddenKind(name="light-drift", group="light", easy=0.6, middle=0.4, hard=0.25, signed=True),
        HiddenKind(name="mains-flicker", group="light", easy=0.6, middle=0.4, hard=0.25),
        HiddenKind(
            name="mistyped-reading", group="people", easy=1.0, middle=0.6, hard=0.3, signed=True
        ),
        HiddenKind(name="shutter-scatter", group="shutter", easy=0.2, middle=0.12, hard=0.07),
        HiddenKind(name="shutter-late", group="shutter", easy=0.5, middle=0.3, hard=0.18),
        HiddenKind(name="knee", group="response", easy=0.5, middle=0.65, hard=0.8),
        HiddenKind(name="clip-channel", group="response", easy=0.8, middle=0.5, hard=0.3),
        HiddenKind(name="card-gradient", group="card", easy=2.0, middle=1.2, hard=0.7),
        HiddenKind(name="noise-reduction", group="coding", easy=0.4, middle=0.25, hard=0.12),
        HiddenKind(name="digital-push", group="coding", easy=0.8, middle=0.5, hard=0.3),
        HiddenKind(name="pattern-noise", group="coding", easy=0.06, middle=0.035, hard=0.02),
    )
}
"""Faults that plots and the table of frames can show, by the name of the fault."""

_COUNTS: Final[Mapping[Difficulty, tuple[int, int]]] = {
    "easy": (1, 1),
    "middle": (1, 2),
    "hard": (1, 3),
}


@dataclass(frozen=True, kw_only=True)
class Hidden:
    """What is hidden in a series: faults with their sizes, in the order of KINDS."""

    seed: int
    difficulty: Difficulty
    faults: tuple[tuple[str, float], ...]


@dataclass(frozen=True, kw_only=True)
class Judged:
    """One fault that is there or was said to be: true size and said size, None for not."""

    name: str
    true_size: float | None
    said_size: float | None

    @property
    def found(self) -> bool:
        """Whether it is there and was said."""
        return self.true_size is not None and self.said_size is not None

    @property
    def size_right(self) -> bool:
        """Whether the size of the list that was said is the one nearest to the truth."""
        if self.true_size is None or self.said_size is None:
            return False
        return KINDS[self.name].nearest(self.true_size) == KINDS[self.name].nearest(self.said_size)


def hide(seed: int, difficulty: Difficulty = "middle") -> Hidden:
    """Return what a seed hides; the same seed hides the same."""
    if difficulty not in DIFFICULTIES:
        raise GreytareError(
            f"there is no difficulty {difficulty!r}",
            "",
            f"Use one of {', '.join(DIFFICULTIES)}",
            "difficulty",
        )
    if not 0 <= seed < 2**31:
        raise GreytareError(f"{seed} isn't a seed", "", "Give a whole number from 0 up", "hidden")
    drawn = np.random.default_rng([seed, DIFFICULTIES.index(difficulty), len(KINDS)])
    low, high = _COUNTS[difficulty]
    wanted = int(drawn.integers(low, high + 1))
    groups: set[str] = set()
    chosen: dict[str, float] = {}
    for k in drawn.permutation(len(KINDS)):
        kind = list(KINDS.values())[int(k)]
        if kind.group in groups or len(chosen) == wanted:
            continue
        groups.add(kind.group)
        size = float(getattr(kind, difficulty)) * (1.0 + float(drawn.uniform(-_SPREAD, _SPREAD)))
        sign = -1.0 if kind.signed and drawn.random() < 0.5 else 1.0
        chosen[kind.name] = sign * round(size, 3)
    return Hidden(
        seed=seed,
        difficulty=difficulty,
        faults=tuple((name, chosen[name]) for name in KINDS if name in chosen),
    )


def hidden_series(
    hidden: Hidden, *, size: tuple[int, int] = (480, 320), compression: str = "lossless"
) -> SeriesSpec:
    """Return the series of a task: whatever is hidden, files and sheet look alike.

    One reading is written beside every frame, so that a mistyped one adds no row.
    """
    body = load_body("halden-h2")
    body = replace(body, labels=(body.label(ISO),))
    drawn = np.random.default_rng([hidden.seed, len(hidden.difficulty)])
    more = float(drawn.uniform(-_BODY_EV, _BODY_EV))
    body = replace(body, electrons_per_lx_s=body.electrons_per_lx_s * 2.0**more)
    spec = standard_series(
        body,
        hidden.seed,
        labels=(ISO,),
        mode=MODE,
        frames_per_label=_FRAMES,
        pairs=True,
        darks=2,
        size=size,
        compression=compression,
        shutter_scatter_ev=_SCATTER_EV,
    )
    spec = replace(spec, frame_readings=True, read_anew=False)
    for name, fault_size in hidden.faults:
        if name == "mistyped-reading":
            spec = _mistype(spec, fault_size)
        else:
            spec = FAULTS[name].apply(spec, fault_size)
    return spec


def mistyped_frame(hidden: Hidden) -> int | None:
    """Return the number of the frame, counted from 1, whose reading is wrong; None for none."""
    shots = hidden_series(hidden).shots
    return next((n for n, shot in enumerate(shots, start=1) if shot.reading_error_ev), None)


def _mistype(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The series with one reading written down wrong, of a frame that clip hasn't swallowed."""
    lit = [index for index, shot in enumerate(spec.shots) if not shot.dark]
    drawn = np.random.default_rng([spec.seed, len(lit)])
    at = int(drawn.choice(lit[:-_OVER_CLIP]))
    shots = list(spec.shots)
    shots[at] = replace(shots[at], reading_error_ev=size)
    faults = (*spec.faults, ("mistyped-reading", size))
    return replace(spec, shots=tuple(shots), faults=faults)


def judge(hidden: Hidden, said: Mapping[str, float]) -> tuple[Judged, ...]:
    """Return every fault that is there or was said, in the order of KINDS."""
    for name in said:
        if name not in KINDS:
            raise GreytareError(
                f"{name!r} isn't on the list", "", f"Use one of {', '.join(KINDS)}", "fault"
            )
    true = dict(hidden.faults)
    return tuple(
        Judged(name=name, true_size=true.get(name), said_size=said.get(name))
        for name in KINDS
        if name in true or name in said
    )


def class_seeds(seed: int, students: int) -> tuple[int, ...]:
    """Return a seed for each student of a class, from which no other student's can be guessed."""
    if not 1 <= students <= _MOST_STUDENTS:
        raise GreytareError(
            f"a class of {students} can't be made",
            "",
            f"Use 1 to {_MOST_STUDENTS}",
            "students",
        )
    state = np.random.SeedSequence([seed, students]).generate_state(2 * students)
    unlike = dict.fromkeys(int(each) % 2**31 for each in state)
    return tuple(list(unlike)[:students])
