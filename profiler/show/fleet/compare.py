"""Differences within a fleet, answered."""

from __future__ import annotations

import math
from collections.abc import Sequence

from profiler.fleet.compare import Difference
from profiler.fleet.models import Deviation, ModelGroup, shared_meter
from profiler.show.answer import Answer, Note
from profiler.show.calibration.identity import full_name
from profiler.show.fleet.words import (
    MOST_LISTED,
    NONE,
    QUANTITY_NAMES,
    Cases,
    FleetTable,
    around,
    body_name,
    capital,
    chance_words,
    interval,
    meter_words,
    short_name,
    two_places,
    value_words,
)
from profiler.show.words import count


def named_groups(groups: Sequence[ModelGroup], cases: Cases) -> dict[str, ModelGroup]:
    """Return name -> group; a number tells those apart whose names are alike."""
    named: dict[str, ModelGroup] = {}
    for group in groups:
        model = full_name(group.make, group.model) or "not named"
        words = f"{model}, {cases.words(group.case, group.aim_stops, group.quantity)}"
        key, number = words, 1
        while key in named:
            number += 1
            key = f"{words}, no. {number}"
        named[key] = group
    return named


def furthest(group: ModelGroup) -> list[Deviation]:
    """Return the bodies that an answer lists and draws, the furthest first."""
    return sorted(group.deviations, key=lambda one: -abs(one.difference_ev))[:MOST_LISTED]


def model_answer(name: str, group: ModelGroup) -> Answer:
    """Return a model's bodies against the median of the others, and which stand out."""
    n, odd = len(group.deviations), [one for one in furthest(group) if one.outlier]
    names = ", ".join(short_name(one.row) for one in odd[:8]) + (" ..." if len(odd) > 8 else "")
    bounds = tuple(
        Note(text=f"{body_name(row)}: only a lower bound is known, so it is left out.")
        for row in group.bounds
    )
    what = QUANTITY_NAMES[group.quantity]
    if not n:
        said = "one body alone has nothing to be held against"
        if group.only is not None:
            said += f"; its value is {value_words(group.only)} EV"
        return Answer(headline=f"{name}, {what}: {said}.", notes=bounds)
    if odd:
        stands = "stands" if len(odd) == 1 else "stand"
        said = f"{len(odd)} of {n} bodies {stands} out: {names}"
    else:
        said = f"{n} bodies, {no_outlier_words(group)}"
    shown = furthest(group)
    left_out = n - len(shown)
    return Answer(
        headline=f"{name}, {what}: {said}.",
        lead=(_meters(group), _spread_words(group)),
        tables=(
            FleetTable(
                caption="Bodies, the furthest first",
                head=("Body", "Meter", "Value, EV", "From the others, EV", "By chance", "Says"),
                rows=tuple(
                    (
                        body_name(one.row),
                        meter_words(one.row),
                        value_words(one.row.value(group.quantity)),
                        around(one.difference_ev, one.half_ev),
                        chance_words(one.probability),
                        _says(one),
                    )
                    for one in shown
                ),
                numbers=(2, 3, 4),
                about=tuple(one.row for one in shown),
                odd=frozenset(k for k, one in enumerate(shown) if one.outlier),
            ),
        ),
        notes=bounds,
        closing=(f"The {len(shown)} furthest of {n} bodies are listed.",) if left_out else (),
    )


def median_words(group: ModelGroup) -> str:
    """Return the median of a model, a dash without one."""
    return NONE if math.isnan(group.median_ev) else two_places(group.median_ev)


def no_outlier_words(group: ModelGroup) -> str:
    """Return what can be said where no body stands out: few bodies don't show what is usual."""
    n, apart = len(group.deviations), sum(one.significant for one in group.deviations)
    if not apart:
        return "no significant difference"
    if n == 2:
        return "the two differ significantly; which of them is unusual, two can't tell"
    differs = "1 differs" if apart == 1 else f"{apart} differ"
    return f"no outlier beyond the spread of {n} bodies, though {differs} significantly"


def largest(found: Sequence[Difference]) -> list[Difference]:
    """Return the differences that an answer lists and draws, the largest first."""
    return sorted(found, key=lambda one: -abs(one.value_ev))[:MOST_LISTED]


def difference_what(found: Sequence[Difference], *, meters: bool) -> str:
    """Return what is held against what."""
    one = found[0]
    what = QUANTITY_NAMES[one.quantity]
    if meters:
        return f"{what} by one meter less that by another"
    return f"{what} of {short_name(one.a)} less that of {short_name(one.b)}"


def difference_name(one: Difference, cases: Cases, *, meters: bool) -> str:
    """Return the case of a difference, with the body and its two meters where those differ."""
    case = cases.words(one.a.case, one.a.aim_stops, one.quantity)
    if not meters:
        return case
    return f"{short_name(one.a)}, {case}: {meter_words(one.a)} less {meter_words(one.b)}"


def difference_answer(found: Sequence[Difference], cases: Cases, *, meters: bool) -> Answer:
    """Return differences with their intervals, what cancels in them, whether they count."""
    many = sum(one.significant for one in found)
    said = "no significant difference"
    if many:
        said = f"{many} of {len(found)} significant" if len(found) > 1 else "significant"
    shown = largest(found)
    closing = f"The {len(shown)} largest of {count(len(found), 'difference')} are listed."
    return Answer(
        headline=f"{capital(difference_what(found, meters=meters))}: {said}.",
        tables=(
            FleetTable(
                caption="Differences",
                head=("Case", "Difference, EV", "Correlation", "Cancels, EV", "Says"),
                rows=tuple(
                    (
                        difference_name(one, cases, meters=meters),
                        interval(one.value_ev, one.low_ev, one.high_ev),
                        f"{one.correlation:.2f}",
                        ", ".join(f"{name} {u:.3f}" for name, u in one.common_ev.items())
                        or "nothing",
                        "significant" if one.significant else "not significant",
                    )
                    for one in shown
                ),
                numbers=(1, 2),
                odd=frozenset(k for k, one in enumerate(shown) if one.significant),
            ),
        ),
        notes=tuple(
            Note(text=text, warns=True)
            for text in dict.fromkeys(
                note for one in shown for note in difference_notes(one, meters=meters)
            )
        ),
        closing=(closing,) if len(shown) < len(found) else (),
    )


def difference_notes(found: Difference, *, meters: bool) -> list[str]:
    """Return what to look out for in a difference."""
    notes = []
    if not (found.common_ev or found.same_meter or meters):
        notes.append("How the two meters differ from each other is part of the difference.")
    if not (found.common_ev or found.same_meter) and meters:
        notes.append("Not known to be one meter, so the errors of both count.")
    if not found.same_constant:
        constants = f"{found.a.meter_constant:g} and {found.b.meter_constant:g}"
        notes.append(f"Meter constants {constants} differ.")
    return notes


def _meters(group: ModelGroup) -> str:
    """Which meter the bodies were measured by, and how many by another."""
    rows = [one.row for one in group.deviations]
    shared = shared_meter(rows)
    if shared is None:
        return "The meters have no serial, so whether they are one meter isn't known."
    by = [row for row in rows if row.meter == shared]
    name = meter_words(by[0])
    if len(by) == len(rows):
        return f"All by one meter, {name}: its errors cancel."
    return (
        f"{len(by)} of {len(rows)} bodies by {name}, the meter that most of them share; for the "
        "others how the meters differ is part of the difference."
    )


def _spread_words(group: ModelGroup) -> str:
    said = f"Median {median_words(group)} EV."
    if not group.spread_known:
        return said
    n = len(group.deviations)
    return (
        f"{said} From body to body it spreads by {group.spread_ev:.3f} EV (standard deviation) "
        "beyond what the measurements explain; so much scatter by chance has a probability of "
        f"{chance_words(group.probability)} (Birge ratio {group.birge_ratio:.2f}, chi-squared "
        f"{group.chi_squared:.1f} of {n - 1})."
    )


def _says(one: Deviation) -> str:
    if one.outlier:
        return "stands out"
    return "significant by measurement alone" if one.significant else "no significant difference"
