"""Names and period of a colour filter array."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from profiler.errors import FrameError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Cfa = tuple[tuple[str, ...], ...]

MONO: Final[Cfa] = (("Y",),)


def period(cfa: Cfa) -> tuple[int, int]:
    """Rows and columns after which the array repeats."""
    return len(cfa), len(cfa[0])


def channels(cfa: Cfa) -> tuple[str, ...]:
    """The channel names, each once, in the order R, G1, G, G2, B, Y."""
    present = {name for row in cfa for name in row}
    order = ("R", "G1", "G", "G2", "B", "Y")
    return tuple(name for name in order if name in present)


def phases(cfa: Cfa, channel: str) -> list[tuple[int, int]]:
    """Row and column offsets inside one period at which the channel sits."""
    return [(i, j) for i, row in enumerate(cfa) for j, name in enumerate(row) if name == channel]


def smallest_period(indices: NDArray[np.int64]) -> tuple[int, int] | None:
    """Rows and columns of the smallest tile that repeats over the sample; None where none does.

    The sample must hold each tile at least twice, so a period over half its size isn't found.
    """
    rows, columns = indices.shape
    for height in range(1, rows // 2 + 1):
        if (indices[height:] == indices[:-height]).all():
            break
    else:
        return None
    for width in range(1, columns // 2 + 1):
        if (indices[:, width:] == indices[:, :-width]).all():
            return height, width
    return None


def name_letters(letters: list[list[str]]) -> Cfa:
    """Channel names of one period given its colour letters.

    A 2 x 2 array with two greens gets G1 for the green on red's row, G2 for the other.
    """
    flat = sorted(letter for row in letters for letter in row)
    if len(letters) == 2 and flat == ["B", "G", "G", "R"]:
        return tuple(
            tuple(("G1" if "R" in row else "G2") if letter == "G" else letter for letter in row)
            for row in letters
        )
    return tuple(tuple(row) for row in letters)


def cfa_text(cfa: Cfa) -> str:
    """The letters of one period row by row, as parse_cfa reads them: "RG/GB"; "MONO" for one."""
    return "MONO" if cfa == MONO else "/".join("".join(n[0] for n in row) for row in cfa)


def parse_cfa(text: str, where: str) -> Cfa:
    """Channel names of the array that a user wrote.

    "RGGB" (any Bayer order), "MONO", or longer arrays row by row: "GBGGRG/RGRBGB/...", starting
    at the first pixel of the first row.
    """
    word = text.strip().upper().replace(" ", "")
    if word in {"MONO", "Y"}:
        return MONO
    rows = [word[:2], word[2:]] if "/" not in word and len(word) == 4 else word.split("/")
    letters = [list(row) for row in rows]
    plain = len({len(row) for row in letters}) == 1 and all(
        set(row) <= set("RGB") and row for row in letters
    )
    complete = {letter for row in letters for letter in row} == set("RGB")
    bayer = len(letters) == 2 and len(letters[0]) == 2
    rowwise = "/" in word or len(word) == 4
    if not (rowwise and plain and complete) or (bayer and not _greens_on_a_diagonal(letters)):
        raise FrameError(
            f"'{text}' names no colour filter array",
            where,
            "Write RGGB, BGGR, GRBG, GBRG, MONO, or the rows of a longer array with / between them",
        )
    return name_letters(letters)


def _greens_on_a_diagonal(letters: list[list[str]]) -> bool:
    """True where a 2 x 2 array has its greens corner to corner."""
    (a, b), (c, d) = letters
    return (a == d == "G" and b != "G" and c != "G") or (b == c == "G" and a != "G" and d != "G")
