"""Differences: bodies against the median of their model, against each other, meter on meter."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

from profiler.fleet.compare import (
    Difference,
    compare_bodies,
    compare_meters,
)
from profiler.fleet.models import Deviation, ModelGroup, compare_models
from profiler.show.fleet.text import (
    QUANTITY_NAMES,
    body_name,
    chance_words,
    difference_notes,
    no_outlier_words,
)
from profiler.show.text import full_name as model_name
from profiler.web import fields
from profiler.web.fields import Field
from profiler.web.fleet import charts
from profiler.web.fleet.query import Query, common_field, quantity_field
from profiler.web.fleet.reply import Reply, reply
from profiler.web.fleet.words import (
    interval,
    meter_words,
    model_words,
    short_name,
    two_places,
    value_words,
)

KINDS: Final = (
    ("", "each body, the median of its model"),
    ("pair", "two bodies"),
    ("meters", "several meters on one body"),
)


def form(asked: Query) -> list[Field]:
    """Return what to compare, in what."""
    params = asked.params
    kind = params.get("what", "")
    made = [
        Field(name="what", label="Compare", value=kind, choices=KINDS, reload=True),
        quantity_field(params),
    ]
    if kind == "pair":
        made += [
            Field(
                name=name,
                label=label,
                hint="tag or serial",
                value=params.get(name, ""),
                suggestions=asked.names(),
            )
            for name, label in (("body", "Body"), ("against", "Against"))
        ]
    elif not kind:
        groups = _named_groups(asked)
        if len(groups) > 1:
            made.append(
                Field(
                    name="group",
                    label="Model and case",
                    value=params.get("group", ""),
                    choices=(
                        ("", "the one with most bodies"),
                        *((key, f"{key} ({_size(group)})") for key, group in groups.items()),
                    ),
                )
            )
    return [*made, common_field(params)]


def answer(asked: Query) -> Reply:
    """Return the differences of the kind that is asked for."""
    kind = fields.one_of(asked.params, "what", [name for name, _ in KINDS], "")
    if kind == "pair":
        return _pair(asked)
    if kind == "meters":
        return _meters(asked)
    return _median(asked)


def _named_groups(asked: Query) -> dict[str, ModelGroup]:
    """Each model's group by its name; a number tells those apart whose names are alike."""
    found = asked.once("models", lambda: compare_models(asked.rows, asked.quantity, asked.sharing))
    named: dict[str, ModelGroup] = {}
    for group in found:
        model = model_name(group.make, group.model) or "not named"
        words = f"{model}, {asked.case_words(group.case, group.aim_stops)}"
        key, number = words, 1
        while key in named:
            number += 1
            key = f"{words}, no. {number}"
        named[key] = group
    return named


def _size(group: ModelGroup) -> int:
    return len(group.deviations) or 1


def _median_words(group: ModelGroup) -> str:
    return "–" if math.isnan(group.median_ev) else two_places(group.median_ev)


def _median(asked: Query) -> Reply:
    groups = _named_groups(asked)
    chosen = fields.text(asked.params, "group")
    if chosen not in groups:  # none, or one that another quantity or folder doesn't have
        chosen = max(groups, key=lambda key: _size(groups[key]))
    group = groups[chosen]
    ordered = sorted(group.deviations, key=lambda one: -abs(one.difference_ev))
    shown = ordered[: charts.MOST]
    odd = [one for one in ordered if one.outlier]
    names = ", ".join(short_name(one.row) for one in odd[:8]) + (" ..." if len(odd) > 8 else "")
    if not ordered:
        said = f"{chosen}: one body alone has nothing to be held against."
    elif odd:
        verb = "stands" if len(odd) == 1 else "stand"
        said = f"{chosen}: {len(odd)} of {len(ordered)} bodies {verb} out: {names}."
    else:
        said = f"{chosen}: {len(ordered)} bodies, {no_outlier_words(group)}."
    quantity = QUANTITY_NAMES[asked.quantity]
    return reply(
        said,
        "fleet_median.html",
        chart=charts.bars(
            [_bar(one) for one in shown],
            title=f"{quantity} of each body less the median of the others, with 95 % intervals",
            axis=f"{quantity} less the median of the others, EV",
            spread=2.0 * group.spread_ev,
        )
        if shown
        else None,
        group=group,
        count=len(ordered),
        median=_median_words(group),
        chance=chance_words(group.probability),
        rows=[_row(one, asked) for one in shown],
        bounds=[body_name(row) for row in group.bounds],
        groups=[
            {
                "name": key,
                "address": asked.here("compare", group=key),
                "here": key == chosen,
                "bodies": _size(each),
                "median": _median_words(each),
                "spread": f"{each.spread_ev:.3f}" if each.spread_known else "–",
                "birge": f"{each.birge_ratio:.2f}" if each.deviations else "–",
                "odd": sum(one.outlier for one in each.deviations),
            }
            for key, each in groups.items()
        ],
        profiles=asked.profiles,
    )


def _bar(one: Deviation) -> charts.Bar:
    return charts.Bar(
        name=short_name(one.row),
        value=one.difference_ev,
        low=one.difference_ev - one.half_ev,
        high=one.difference_ev + one.half_ev,
        odd=one.outlier,
    )


def _row(one: Deviation, asked: Query) -> dict[str, Any]:
    bar = _bar(one)
    says = "no significant difference"
    if one.outlier:
        says = "stands out"
    elif one.significant:
        says = "significant by measurement alone"
    return {
        "name": bar.name,
        "body": model_words(one.row),
        "address": asked.body_address(one.row),
        "value": value_words(one.row.value(asked.quantity)),
        "difference": interval(bar.value, bar.low, bar.high),
        "chance": chance_words(one.probability),
        "says": says,
        "odd": one.outlier,
    }


def _pair(asked: Query) -> Reply:
    one, other = (fields.text(asked.params, name) for name in ("body", "against"))
    if not one or not other:
        return Reply(headline="Name two bodies, by tag or serial.", missing=True)
    found = compare_bodies(asked.rows, one, other, asked.quantity, asked.sharing)
    return _differences(
        found,
        asked,
        f"{QUANTITY_NAMES[asked.quantity]} of {short_name(found[0].a)} less that of "
        f"{short_name(found[0].b)}",
        _cases(found, asked),
        meters=False,
    )


def _meters(asked: Query) -> Reply:
    found = asked.once("meters", lambda: compare_meters(asked.rows, asked.quantity, asked.sharing))
    if not found:
        return Reply(headline="No body was measured by two meters.", missing=True)
    return _differences(
        found,
        asked,
        f"{QUANTITY_NAMES[asked.quantity]} by one meter less that by another",
        [
            f"{short_name(each.a)}, {case}: {meter_words(each.a)} less {meter_words(each.b)}"
            for each, case in zip(found, _cases(found, asked), strict=True)
        ],
        meters=True,
    )


def _cases(found: Sequence[Difference], asked: Query) -> list[str]:
    return [asked.case_words(each.a.case, each.a.aim_stops) for each in found]


def _differences(
    found: Sequence[Difference], asked: Query, what: str, names: Sequence[str], *, meters: bool
) -> Reply:
    count = sum(each.significant for each in found)
    said = "no significant difference"
    if count:
        said = f"{count} of {len(found)} significant" if len(found) > 1 else "significant"
    ordered = sorted(zip(names, found, strict=True), key=lambda pair: -abs(pair[1].value_ev))[
        : charts.MOST
    ]
    return reply(
        f"{what[:1].upper()}{what[1:]}: {said}.",
        "fleet_pairs.html",
        chart=charts.bars(
            [
                charts.Bar(
                    name=name,
                    value=each.value_ev,
                    low=each.low_ev,
                    high=each.high_ev,
                    odd=each.significant,
                )
                for name, each in ordered
            ],
            title=f"{what}, with 95 % intervals",
            axis=f"{what}, EV",
        ),
        rows=[
            {
                "name": name,
                "difference": interval(each.value_ev, each.low_ev, each.high_ev),
                "correlation": f"{each.correlation:.2f}",
                "common": ", ".join(f"{n} {u:.3f}" for n, u in each.common_ev.items()) or "nothing",
                "says": "significant" if each.significant else "not significant",
                "odd": each.significant,
                "notes": difference_notes(each, meters=meters),
            }
            for name, each in ordered
        ],
        count=len(found),
        profiles=asked.profiles,
    )
