"""The verdicts on a fleet, answered."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from profiler.exposure.wording import format_ev
from profiler.fleet.absent import Absent
from profiler.fleet.decide import Adjustment, BodyVerdict, Judged, counts
from profiler.fleet.rules import describe
from profiler.fleet.tolerances import Tolerances
from profiler.show.answer import Answer, Note, Table
from profiler.show.fleet.words import (
    NONE,
    OWN_DOUBTS,
    QUANTITY_NAMES,
    FleetTable,
    body_name,
    body_words,
    case_words,
    limits_words,
    share_words,
    two_places,
)
from profiler.show.words import count

MOST_BODIES = 200
"""Bodies that an answer lists; more can't be read."""
HEAD = ("Case", "Quantity", "Value, EV", "U, EV", "Limits, EV", "Verdict", "Conforms")


def verdict_answer(
    verdicts: Sequence[BodyVerdict],
    tolerances: Tolerances,
    pairs: Sequence[Adjustment] = (),
    *,
    absent: Sequence[Absent] = (),
) -> Answer:
    """Return the count, the rule, what of each body isn't in, each adjustment, who is missing."""
    expired = sum(one.expired for one in verdicts)
    wanting = [one for one in verdicts if one.verdict != "in" or one.expired]
    listed = [
        (one, judged)
        for one in wanting[:MOST_BODIES]
        for judged in one.judged
        if judged.verdict != "in" or judged.expired
    ]
    tables: list[Table] = []
    if listed:
        tables.append(
            FleetTable(
                caption="What isn't in, or has expired",
                head=("Body", *HEAD),
                rows=tuple(
                    (body_words(one.body, one.asset_tag), *judged_cells(judged))
                    for one, judged in listed
                ),
                numbers=(3, 4),
                about=tuple(judged.row for _, judged in listed),
                odd=frozenset(k for k, (_, one) in enumerate(listed) if one.verdict == "out"),
            )
        )
    if pairs:
        tables.append(adjustment_table(pairs[:MOST_BODIES]))
    closing = ["A body's verdict is the worst of its latest results."]
    if tables:
        closing.append("U is half a 95 % interval.")
    if len(wanting) > MOST_BODIES:
        closing.append(
            f"The first {MOST_BODIES} of {len(wanting)} bodies that aren't in stand here."
        )
    missing = f"; {absent_count(absent, verdicts)}" if absent else ""
    return Answer(
        headline=f"{count(len(verdicts), 'body', 'bodies')}: "
        f"{count_words(counts(verdicts), expired)}{missing}.",
        lead=(f"{describe(tolerances.rule)}.",),
        tables=tuple(tables),
        notes=(
            *(Note(text=absent_words(one), warns=True) for one in absent[:MOST_BODIES]),
            *(Note(text=text, warns=True) for text in _doubts(verdicts)),
        ),
        closing=tuple(closing),
    )


def _doubts(verdicts: Sequence[BodyVerdict]) -> list[str]:
    """What the lab's own records cast doubt on, body by body."""
    said: dict[str, list[str]] = {}
    for one in verdicts:
        for name in one.doubts:
            said.setdefault(name, []).append(body_words(one.body, one.asset_tag))
    out = []
    for name, bodies in said.items():
        more = f" and {len(bodies) - 5} more" if len(bodies) > 5 else ""
        out.append(f"{OWN_DOUBTS[name]}: {', '.join(bodies[:5])}{more}.")
    return out


def absent_count(absent: Sequence[Absent], verdicts: Sequence[BodyVerdict]) -> str:
    """Return how many have no verdict, and how many have one beside a series that failed."""
    judged = {one.body for one in verdicts}
    without = sum(one.body not in judged for one in absent)
    beside = len({one.body for one in absent} & judged)
    have = "has" if beside == 1 else "have"
    said = [f"{without} without a verdict"] if without else []
    return "; ".join([*said, *([f"{beside} {have} one, and a failed series"] if beside else [])])


def absent_words(one: Absent) -> str:
    """Return why a body, or a series, has no verdict."""
    who = one.series if one.reason == "unread" else body_words(one.body, one.asset_tag)
    if one.body[2] == f"tag {one.series}":
        who = one.series
    said = {
        "failed": f"series {one.series} failed: {one.why}",
        "unread": f"its profile can't be read: {one.why}.",
        "archived": "its series are archived: their files are gone"
        + (f" (the frames are now {one.why})." if one.why else "."),
        "later": "all of its results are of a later day.",
        "duplicate": f"its frames are those of {one.why}, which counts.",
        "no-tolerance": "no tolerance holds for what was measured.",
    }[one.reason]
    return f"{who}: {said}"


def count_words(held: Mapping[str, int], expired: int) -> str:
    """Return `6 in, 1 out, 1 undecided; 2 expired`."""
    said = ", ".join(f"{held[name]} {name}" for name in ("in", "out", "undecided"))
    return said + (f"; {expired} expired" if expired else "")


def judged_cells(one: Judged) -> tuple[str, ...]:
    """Return one verdict in the order of HEAD."""
    bound = "at least " if one.lower_bound else ""
    return (
        case_words(one.row.case),
        QUANTITY_NAMES[one.quantity],
        f"{bound}{two_places(one.value_ev)}",
        f"{one.expanded_ev:.2f}",
        limits_words(one.low_ev, one.high_ev),
        one.verdict + (f", expired on {one.expires}" if one.expired else ""),
        NONE if one.probability is None else share_words(one.probability),
    )


def judged_words(one: Judged) -> str:
    """Return one verdict in a sentence: quantity, value with U, limits, probability."""
    case, quantity, value, u, limits, verdict, conforms = judged_cells(one)
    chance = "" if one.probability is None else f", conforms: {conforms}"
    return f"{case}: {quantity} {value} EV, U {u}, limits {limits} EV: {verdict}{chance}"


def adjustment_table(pairs: Sequence[Adjustment]) -> FleetTable:
    """Return what each adjustment did to a quantity."""
    return FleetTable(
        caption="Adjustments",
        head=("Body", "Case", "Quantity", "As found, EV", "As left, EV", "Change, EV", "u, EV"),
        rows=tuple(
            (
                body_name(pair.found.row),
                case_words(pair.found.row.case),
                QUANTITY_NAMES[pair.found.quantity],
                f"{two_places(pair.found.value_ev)} ({pair.found.verdict})",
                f"{two_places(pair.left.value_ev)} ({pair.left.verdict})",
                two_places(pair.change_ev),
                f"{pair.u_ev:.2f}",
            )
            for pair in pairs
        ),
        numbers=(5, 6),
        about=tuple(pair.left.row for pair in pairs),
    )


def adjustment_words(pair: Adjustment) -> str:
    """Return what an adjustment of a body did to a quantity, in a sentence."""
    return (
        f"{case_words(pair.found.row.case)}: {QUANTITY_NAMES[pair.found.quantity]} as found "
        f"{format_ev(pair.found.value_ev)} ({pair.found.verdict}), as left "
        f"{format_ev(pair.left.value_ev)} ({pair.left.verdict}), "
        f"change {format_ev(pair.change_ev)} (u {pair.u_ev:.2f})"
    )


def verdict_words(one: BodyVerdict) -> str:
    """Return a body's verdict and whether it has expired."""
    return one.verdict + (", expired" if one.expired else "")
