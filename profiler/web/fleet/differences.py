"""Differences: bodies against the median of their model, against each other, meter on meter."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from profiler.fleet.compare import Difference, compare_bodies, compare_meters
from profiler.fleet.models import Deviation, ModelGroup, compare_models
from profiler.show.fleet.compare import (
    difference_answer,
    difference_name,
    difference_what,
    furthest,
    largest,
    median_words,
    model_answer,
    named_groups,
)
from profiler.show.fleet.words import NONE, QUANTITY_NAMES, short_name
from profiler.web import fields
from profiler.web.fields import Field
from profiler.web.fleet import charts
from profiler.web.fleet.query import Query, common_field, quantity_field
from profiler.web.fleet.reply import Reply, answered

KINDS: Final = (
    ("", "each body, the median of its model"),
    ("pair", "two bodies"),
    ("meters", "several meters on one body"),
)


def form(asked: Query) -> list[Field]:
    """Return what to compare, in what."""
    kind = asked.params.get("what", "")
    made = [
        Field(name="what", label="Compare", choices=KINDS, reload=True),
        quantity_field(),
    ]
    if kind == "pair":
        made += [
            Field(
                name=name,
                label=label,
                hint="tag or serial",
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
                    choices=(
                        ("", "the one with most bodies"),
                        *((key, f"{key} ({_size(group)})") for key, group in groups.items()),
                    ),
                )
            )
    return [*made, common_field()]


def answer(asked: Query) -> Reply:
    """Return the differences of the kind that is asked for."""
    kind = fields.one_of(asked.params, "what", [name for name, _ in KINDS], "")
    if kind == "pair":
        return _pair(asked)
    if kind == "meters":
        return _meters(asked)
    return _median(asked)


def _named_groups(asked: Query) -> dict[str, ModelGroup]:
    found = asked.once("models", lambda: compare_models(asked.rows, asked.quantity, asked.sharing))
    return named_groups(found, asked.cases())


def _size(group: ModelGroup) -> int:
    return len(group.deviations) or 1


def _median(asked: Query) -> Reply:
    groups = _named_groups(asked)
    chosen = fields.text(asked.params, "group")
    if chosen not in groups:  # none, or one that another quantity or folder doesn't have
        chosen = max(groups, key=lambda key: _size(groups[key]))
    group = groups[chosen]
    quantity = QUANTITY_NAMES[asked.quantity]
    shown = furthest(group)
    chart = None
    if shown:
        chart = charts.bars(
            [_bar(one) for one in shown],
            title=f"{quantity} of each body less the median of the others, with 95 % intervals",
            axis=f"{quantity} less the median of the others, EV",
            spread=2.0 * group.spread_ev,
        )
    return answered(
        model_answer(chosen, group),
        asked.body_address,
        chart=chart,
        legend="Bars: 95 % by measurement alone. Grey band: two spreads of the model. Squares "
        "stand out.",
        groups=[
            {
                "name": key,
                "address": asked.here("compare", group=key),
                "here": key == chosen,
                "bodies": _size(each),
                "median": median_words(each),
                "spread": f"{each.spread_ev:.3f}" if each.spread_known else NONE,
                "birge": f"{each.birge_ratio:.2f}" if each.deviations else NONE,
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


def _pair(asked: Query) -> Reply:
    one, other = (fields.text(asked.params, name) for name in ("body", "against"))
    if not one or not other:
        return Reply(headline="Name two bodies, by tag or serial.", waits=True)
    found = compare_bodies(asked.rows, one, other, asked.quantity, asked.sharing)
    return _differences(found, asked, meters=False)


def _meters(asked: Query) -> Reply:
    found = asked.once("meters", lambda: compare_meters(asked.rows, asked.quantity, asked.sharing))
    if not found:
        return Reply(headline="No body was measured by two meters.", waits=True)
    return _differences(found, asked, meters=True)


def _differences(found: Sequence[Difference], asked: Query, *, meters: bool) -> Reply:
    what, cases = difference_what(found, meters=meters), asked.cases()
    return answered(
        difference_answer(found, cases, meters=meters),
        asked.body_address,
        chart=charts.bars(
            [
                charts.Bar(
                    name=difference_name(one, cases, meters=meters),
                    value=one.value_ev,
                    low=one.low_ev,
                    high=one.high_ev,
                    odd=one.significant,
                )
                for one in largest(found)
            ],
            title=f"{what}, with 95 % intervals",
            axis=f"{what}, EV",
        ),
        legend="Bars: 95 %. Errors that both results have in common are taken out. Squares: more "
        "than the uncertainty explains.",
        profiles=asked.profiles,
    )
