"""Two calibrations held against each other, answered and drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from profiler.fleet.two import Change, TwoCalibrations
from profiler.records import Estimate
from profiler.show import words
from profiler.show.answer import Answer, Note, facts
from profiler.show.fleet.compare import difference_notes
from profiler.show.fleet.words import FleetTable, interval, value_words
from profiler.show.plots import style

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_ROW_IN: Final = 0.5


def two_answer(found: TwoCalibrations) -> Answer:
    """Return what moved from the first calibration to the second, alike and by itself."""
    alone = [one for one in found.changes if one.by_itself]
    notes = [Note(text=text, warns=True) for text in _notes(found)]
    for side, cases in (("first", found.first_only), ("second", found.second_only)):
        if cases:
            held = "; ".join(cases)
            notes.append(Note(text=f"Only the {side} holds, with clip seen: {held}."))
    return Answer(
        headline=_headline(found),
        lead=tuple(_alone_words(one) for one in alone),
        figures=facts([("labels that moved alike", f"{words.signed(found.alike_ev)} stop")]),
        tables=(
            FleetTable(
                caption="Clip headroom, which moves as the offset does; second less first: more "
                "means that the second asks for more exposure",
                head=(
                    "Label",
                    "Headroom first, EV",
                    "Headroom second, EV",
                    "Change of offset, EV",
                    "Beyond the others",
                    "Says",
                ),
                rows=tuple(_row(one) for one in found.changes),
                numbers=(1, 2, 3, 4),
                about=tuple(one.whole.a for one in found.changes),
                odd=frozenset(k for k, one in enumerate(found.changes) if one.by_itself),
            ),
        ),
        rows=facts(
            [
                *(
                    (name, f"{a or words.UNKNOWN}, then {b or words.UNKNOWN}")
                    for name, (a, b) in found.differs.items()
                ),
                ("cancels", _cancels(found)),
            ]
        ),
        notes=tuple(notes),
        closing=(
            "Labels of one series share reading, iris and card: against each other they are known "
            "better than against another day's reading.",
            words.INTERVALS,
        ),
    )


def two_figure(found: TwoCalibrations) -> Figure:
    """Return the change of each label with its interval, and the mean of those that moved alike."""
    from matplotlib.figure import Figure

    count = len(found.changes)
    height = 1.9 + _ROW_IN * count
    figure = Figure(figsize=(6.4, height), dpi=style.DPI, layout="constrained")
    axes = figure.subplots()
    style.plain(axes)
    alike = found.alike_ev
    axes.axvspan(alike.low, alike.high, color=style.BAND, linewidth=0)
    axes.axvline(0.0, color=style.PALE, linewidth=1.0)
    axes.axvline(alike.value, color=style.INK, linewidth=1.0, linestyle=style.DASH["clip"])
    for alone, colour, marker, name in (
        (False, style.INK, "o", "ISO label, with 95 %"),
        (True, style.ALARM, "s", "moved by itself"),
    ):
        places = [i for i, one in enumerate(found.changes) if one.by_itself is alone]
        if not places:
            continue
        shown = [found.changes[i] for i in places]
        axes.errorbar(
            [one.whole.value_ev for one in shown],
            places,
            xerr=[0.5 * (one.whole.high_ev - one.whole.low_ev) for one in shown],
            fmt=marker,
            color=colour,
            markersize=5,
            linewidth=0.9,
            capsize=3,
            label=name,
        )
        axes.errorbar(
            [one.whole.value_ev for one in shown],
            places,
            xerr=[0.0 if e is None else words.half_width(e) for e in (o.beyond_ev for o in shown)],
            fmt="none",
            color=colour,
            linewidth=3.5,
            label=None if alone else "against the other labels",
        )
    axes.set_yticks(range(count), [_case(one) for one in found.changes])
    axes.set_ylim(-0.7, count + 0.9)
    style.label(axes, x="second less first, EV: right of 0 the second asks for more exposure")
    style.title(axes, "Two calibrations of one body")
    style.legend(axes, heading="band: labels that moved alike, with 95 %")
    return figure


def _headline(found: TwoCalibrations) -> str:
    """Return the one sentence: what moved alike, and which labels didn't."""
    alone = [one for one in found.changes if one.by_itself]
    alike = found.alike_ev
    several = len(found.changes) - len(alone) > 1
    who = "the other labels" if alone else "all ISO labels" if several else "the ISO label"
    if found.apart:
        both = " and ".join(f"ISO {one.whole.a.iso}" for one in found.changes)
        return (
            f"{both} moved differently, by {_size(found.changes[0].beyond_ev)} stop; which of them "
            "changed two labels can't tell."
        )
    if alike.low <= 0.0 <= alike.high:
        said = f"{who} moved by no more than the uncertainty ({words.signed(alike)} stop)"
    else:
        more = words.stops(alike, "more", "less")
        said = f"for {who} the second asks for {more} exposure than the first"
    if alone:
        names = ", ".join(f"ISO {one.whole.a.iso}" for one in alone)
        return f"{names} changed by {'itself' if len(alone) == 1 else 'themselves'}; {said}."
    if alike.low <= 0.0 <= alike.high:
        return f"The two calibrations agree: {said}."
    return f"{said[0].upper()}{said[1:]}{', all alike' if several else ''}."


def _alone_words(one: Change) -> str:
    beyond = one.beyond_ev
    if beyond is None:
        raise ValueError("a label alone can't stand out")
    return f"{_case(one)}: {words.stops(beyond, 'more', 'less')} than the other labels moved."


def _size(estimate: Estimate | None) -> str:
    return words.UNKNOWN if estimate is None else words.margin(estimate)


def _row(one: Change) -> tuple[str, ...]:
    whole = one.whole
    says = "moved by itself" if one.by_itself else "as the others" if one.beyond_ev else "alone"
    return (
        _case(one),
        value_words(whole.b.value(whole.quantity), sign=False),
        value_words(whole.a.value(whole.quantity), sign=False),
        interval(whole.value_ev, whole.low_ev, whole.high_ev),
        words.UNKNOWN if one.beyond_ev is None else words.signed(one.beyond_ev),
        says,
    )


def _case(one: Change) -> str:
    iso, mode, light = one.case
    return f"ISO {iso}, {mode}, {light}"


def _cancels(found: TwoCalibrations) -> str:
    names = [f"{name} {u:.3f} EV" for name, u in found.changes[0].whole.common_ev.items()]
    names += ["the iris at its one aperture"] if found.iris_cancels else []
    return ", ".join(names) or "nothing"


def _notes(found: TwoCalibrations) -> list[str]:
    notes = difference_notes(found.changes[0].whole, meters=False)
    if "body" in found.differs:
        notes.append("The two are of different bodies: how these differ is part of the change.")
    if "lens" in found.differs or "apertures" in found.differs:
        notes.append("Lens or aperture differ: their light loss and iris are part of the change.")
    return notes
