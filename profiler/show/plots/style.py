"""One look for all pictures: colours, marks, sizes and axes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Final, Literal

from profiler.show.channels import counted

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure, FigureBase
    from numpy.typing import ArrayLike

    from profiler.results import Result

Corner = Literal["upper left", "lower left", "lower right"]

INK: Final = "#222222"
PALE: Final = "#767676"
GRID: Final = "#dddddd"
BAND: Final = "#e6e6e6"
PAPER: Final = "#ffffff"
ALARM: Final = "#d55e00"

# colour-blind-safe (Okabe, Ito 2008), and told apart by marker and line when printed in grey
STYLE: Final = {
    "R": ("#d55e00", "o", "-"),
    "G1": ("#009e73", "s", "--"),
    "G": ("#009e73", "s", "--"),
    "G2": ("#006b4e", "D", "-."),
    "B": ("#0072b2", "^", ":"),
    "Y": (INK, "o", "-"),
}
DASH: Final = {"clip": (0, (4, 2)), "aim": (0, (1, 2))}

WIDTH_IN: Final = 4.6
"""Narrow enough that 9 points stay readable where a phone shows the picture at its own width."""
LEFT_IN, RIGHT_IN, TOP_IN, BOTTOM_IN = 0.80, 0.14, 0.38, 0.52
TITLE_PT, LABEL_PT, TICK_PT = 10.0, 9.0, 8.5
DPI: Final = 150


def look(channel: str) -> tuple[str, str, str]:
    """Return colour, marker and line of a channel."""
    return STYLE.get(channel, (INK, "x", "-"))


def stacked(
    results: Sequence[Result], height_in: float, draw: Callable[[FigureBase, Result], None]
) -> Figure:
    """Return a figure with one picture per result, each height_in high, below each other."""
    from matplotlib.figure import Figure

    count = len(results)
    figure = Figure(figsize=(WIDTH_IN, height_in * count), dpi=DPI)
    if count == 1:
        draw(figure, results[0])
        return figure
    parts = figure.subfigures(count, 1, squeeze=False)
    for part, result in zip(parts[:, 0], results, strict=True):
        draw(part, result)
    return figure


def panels(
    place: FigureBase,
    shares: Sequence[float],
    height_in: float,
    *,
    left_in: float = LEFT_IN,
    gap_in: float = 0.14,
) -> list[Axes]:
    """Return axes above each other, heights in the ratio of `shares`, with room for their words.

    height_in: height of `place`. Only the lowest shows its x axis; all share its limits.
    """
    free = height_in - TOP_IN - BOTTOM_IN - gap_in * (len(shares) - 1)
    top = height_in - TOP_IN
    out: list[Axes] = []
    for share in shares:
        high = free * share / sum(shares)
        box = (
            left_in / WIDTH_IN,
            (top - high) / height_in,
            (WIDTH_IN - left_in - RIGHT_IN) / WIDTH_IN,
            high / height_in,
        )
        axes = place.add_axes(box, sharex=out[0] if out else None)
        plain(axes)
        top -= high + gap_in
        out.append(axes)
    for axes in out[:-1]:
        axes.tick_params(labelbottom=False)
    return out


def plain(axes: Axes) -> None:
    """Give axes the house's look: grey grid below the data, no box at the top and right."""
    axes.set_facecolor("none")
    axes.set_axisbelow(True)
    axes.grid(True, color=GRID, linewidth=0.6)
    axes.tick_params(labelsize=TICK_PT, colors=INK, width=0.6, length=3.0)
    axes.tick_params(which="minor", length=0.0)
    for side, spine in axes.spines.items():
        spine.set_visible(side in ("left", "bottom"))
        spine.set_color(PALE)
        spine.set_linewidth(0.8)


def label(axes: Axes, *, x: str = "", y: str = "") -> None:
    """Name the axes, with unit."""
    if x:
        axes.set_xlabel(x, fontsize=LABEL_PT, color=INK)
    if y:
        axes.set_ylabel(y, fontsize=LABEL_PT, color=INK)


def title(axes: Axes, words: str) -> None:
    """Write the title above the axes, at their left."""
    # a fixed height: looking for a free one costs a third of the drawing time
    axes.set_title(literal(words), fontsize=TITLE_PT, color=INK, loc="left", y=1.0)


def even(axes: Axes, reach: float, ticks: int = 5) -> None:
    """Show -reach to reach on the y axis, with few, short tick labels."""
    axes.set_ylim(-reach, reach)
    axes.locator_params(axis="y", nbins=ticks, steps=[1, 2, 5, 10])


def legend(axes: Axes, where: Corner = "upper left", heading: str | None = None) -> None:
    """Explain colours, markers and lines."""
    shown = axes.legend(
        loc=where,
        fontsize=TICK_PT,
        frameon=False,
        labelcolor=INK,
        title=heading or "",
        title_fontsize=TICK_PT,
        alignment="left",
        handlelength=2.6,
        borderaxespad=0.2,
    )
    shown.get_title().set_color(INK)


def line(axes: Axes, channel: str, x: ArrayLike, y: ArrayLike, words: str) -> None:
    """Draw the line of a channel in its colour, its marker beside the words in the legend."""
    colour, marker, dash = look(channel)
    axes.plot(
        x,
        y,
        dash,
        color=colour,
        linewidth=1.3,
        marker=marker,
        markevery=[],
        markersize=4.5,
        label=f"{counted(channel)}{words}",
    )


def points(
    axes: Axes,
    x: Sequence[float],
    y: Sequence[float],
    halves: Sequence[float] | tuple[Sequence[float], Sequence[float]],
    **look: Any,
) -> None:
    """Draw dots with their 95 % intervals: half widths, or those below and those above."""
    usual: dict[str, Any] = {
        "fmt": "o",
        "color": INK,
        "markersize": 4.5,
        "capsize": 3,
        "linewidth": 1.0,
    }
    axes.errorbar(x, y, yerr=halves, **(usual | look))


def note(axes: Axes, words: str, x: float, y: float, **where: Any) -> None:
    """Write words at a place: of the data, unless told otherwise."""
    usual: dict[str, Any] = {"fontsize": TICK_PT, "color": INK, "ha": "center"}
    axes.annotate(literal(words), (x, y), **(usual | where))


def literal(words: str) -> str:
    """Return words from a file as they are: matplotlib takes $ for the start of a formula."""
    return words.replace("$", r"\$")


def upright(axes: Axes, at: float, words: str, side: str, height: float = 0.03) -> None:
    """Write words along a vertical line at `at`, to its `side` (left or right)."""
    note(
        axes,
        words,
        at,
        height,
        xycoords=("data", "axes fraction"),
        xytext=(3 if side == "right" else -3, 0),
        textcoords="offset points",
        rotation=90,
        ha="left" if side == "right" else "right",
        va="bottom",
    )


def whole_number(value: float, _: object = None) -> str:
    """Return a tick in plain digits."""
    return f"{value:g}" if abs(value) < 1e6 else f"{value:.0f}"
