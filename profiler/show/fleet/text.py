"""A fleet in words: verdicts, differences, outliers, drift."""

from __future__ import annotations

from collections.abc import Sequence

from profiler.exposure.wording import format_ev
from profiler.fleet.compare import Difference
from profiler.fleet.decide import Adjustment, BodyVerdict, Judged, counts
from profiler.fleet.drift import CommonDrift, History
from profiler.fleet.models import ModelGroup
from profiler.fleet.rows import Row
from profiler.fleet.rules import describe
from profiler.fleet.tolerances import Tolerances
from profiler.show.text import full_name

QUANTITY_NAMES = {
    "offset_ev": "offset",
    "clip_headroom_ev": "clip headroom",
    "linear_headroom_ev": "linear headroom",
    "footroom_snr1_ev": "footroom at SNR 1",
    "footroom_snr10_ev": "footroom at SNR 10",
    "footroom_snr40_ev": "footroom at SNR 40",
}


def chance_words(probability: float) -> str:
    """Return a probability of chance with two figures, tiny ones as a bound."""
    return "under 1e-6" if probability < 1e-6 else f"{probability:.2g}"


def share_words(probability: float) -> str:
    """Return a probability in per cent, never as certainty."""
    if probability < 0.001:
        return "under 0.1 %"
    return "over 99.9 %" if probability > 0.999 else f"{100.0 * probability:.1f} %"


def body_name(row: Row) -> str:
    """Return the asset tag, the make and model, the serial of a body."""
    return body_words(row.body, row.asset_tag)


def body_words(body: tuple[str, str, str], tag: str) -> str:
    """Return the same from the parts; a body without a serial is called by its tag or series."""
    make, model, serial = body
    named = f"{full_name(make, model) or 'body'} {serial}"
    return f"{tag} ({named})" if tag and not serial.startswith("tag ") else named


def case_words(case: tuple[str, ...]) -> str:
    """Return `ISO 400, spot, daylight`."""
    _, mode, light, iso = case
    return f"ISO {int(iso)}, {mode}, {light}"


def verdict_words(
    verdicts: Sequence[BodyVerdict], tolerances: Tolerances, pairs: Sequence[Adjustment] = ()
) -> str:
    """Return the rule, the count, then each body that isn't in, and each adjustment."""
    count = counts(verdicts)
    expired = sum(one.expired for one in verdicts)
    lines = [
        f"{describe(tolerances.rule)}.",
        "",
        f"{len(verdicts)} bodies: {count['in']} in, {count['out']} out, "
        f"{count['undecided']} undecided" + (f"; {expired} expired" if expired else ""),
    ]
    for one in verdicts:
        if one.verdict == "in" and not one.expired:
            continue
        state = one.verdict + (", expired" if one.expired else "")
        lines.append(f"  {body_words(one.body, one.asset_tag)}: {state}")
        lines += [f"    {judged_words(j)}" for j in one.judged if j.verdict != "in" or j.expired]
    if pairs:
        lines += ["", "Adjustments"]
        lines += [f"  {adjustment_words(pair)}" for pair in pairs]
    return "\n".join(lines)


def judged_words(one: Judged) -> str:
    """Return one verdict: quantity, value with U, limits, probability."""
    bound = "at least " if one.lower_bound else ""
    limits = " to ".join("" if x is None else f"{x:+.2f}" for x in (one.low_ev, one.high_ev))
    limits = limits.strip()
    if one.high_ev is None:
        limits = f"at least {one.low_ev:+.2f}"
    elif one.low_ev is None:
        limits = f"at most {one.high_ev:+.2f}"
    chance = "" if one.probability is None else f", conforms: {share_words(one.probability)}"
    expired = f", expired on {one.expires}" if one.expired else ""
    return (
        f"{case_words(one.row.case)}: {QUANTITY_NAMES[one.quantity]} {bound}"
        f"{format_ev(one.value_ev)}, U {one.expanded_ev:.2f}, limits {limits} EV: "
        f"{one.verdict}{chance}{expired}"
    )


def adjustment_words(pair: Adjustment) -> str:
    """Return what an adjustment did to a quantity."""
    return (
        f"{body_name(pair.found.row)}, {case_words(pair.found.row.case)}: "
        f"{QUANTITY_NAMES[pair.found.quantity]} as found {format_ev(pair.found.value_ev)} "
        f"({pair.found.verdict}), as left {format_ev(pair.left.value_ev)} ({pair.left.verdict}), "
        f"change {format_ev(pair.change_ev)} (u {pair.u_ev:.2f})"
    )


def difference_words(found: Difference, *, meters: bool = False) -> str:
    """Return a difference with its interval, what cancels in it, and whether it counts."""
    half = 0.5 * (found.high_ev - found.low_ev)
    a, b = body_name(found.a), body_name(found.b)
    if meters:
        a, b = (f"{a} by {_meter(row)}" for row in (found.a, found.b))
    what = QUANTITY_NAMES[found.quantity]
    size = f"{what} of {a} less that of {b}: {format_ev(found.value_ev)} ± {half:.2f}"
    says = "a significant difference" if found.significant else "no significant difference"
    lines = [f"{case_words(found.a.case)}: {size}, {says}"]
    common = ", ".join(f"{name} {u:.3f} EV" for name, u in found.common_ev.items())
    if common:
        lines.append(f"  correlation {found.correlation:.2f}; what cancels: {common}")
    elif found.same_meter:
        lines.append("  correlation 0.00: nothing of the meter's error cancels")
    else:
        lines.append("  correlation 0.00: not known to be one meter, so its errors count twice")
    return "\n".join([*lines, *(f"  ! {note}" for note in difference_notes(found, meters=meters))])


def difference_notes(found: Difference, *, meters: bool = False) -> list[str]:
    """Return what to look out for in a difference."""
    notes = []
    if not (found.common_ev or found.same_meter or meters):
        notes.append("how the two meters differ from each other is part of the difference")
    if not found.same_constant:
        constants = f"{found.a.meter_constant:g} and {found.b.meter_constant:g}"
        notes.append(f"meter constants {constants} differ")
    return notes


def model_words(group: ModelGroup) -> str:
    """Return a model's median and spread, and the bodies that stand out."""
    n = len(group.deviations)
    lines = [
        f"{full_name(group.make, group.model)}, {case_words(group.case)}, "
        f"{QUANTITY_NAMES[group.quantity]}: "
        f"{n or 1} {'bodies' if n else 'body'}, median {format_ev(group.median_ev)}"
    ]
    if group.spread_known:
        lines.append(
            f"  spread from body to body {group.spread_ev:.3f} EV beyond the uncertainties; "
            f"Birge ratio {group.birge_ratio:.2f} (chi-squared {group.chi_squared:.1f} of {n - 1}, "
            f"by chance with probability {chance_words(group.probability)})"
        )
    odd = [one for one in group.deviations if one.outlier]
    lines += [
        f"  {body_name(one.row)}: {format_ev(one.difference_ev)} from the others "
        f"(u {one.u_ev:.3f}), by chance with probability {chance_words(one.probability)}: "
        "an outlier"
        for one in odd
    ]
    if n and not odd:
        lines.append(f"  {no_outlier_words(group)}")
    lines += [f"  {body_name(row)}: only a lower bound, left out" for row in group.bounds]
    return "\n".join(lines)


def no_outlier_words(group: ModelGroup) -> str:
    """Return what can be said where no body stands out: few bodies don't show what is usual."""
    n, apart = len(group.deviations), sum(one.significant for one in group.deviations)
    if not apart:
        return "no significant difference"
    if n == 2:
        return "the two differ significantly; which of them is unusual, two can't tell"
    differs = "1 differs" if apart == 1 else f"{apart} differ"
    return f"no outlier beyond the spread of {n} bodies, though {differs} significantly"


def history_words(history: History) -> str:
    """Return a body's trend, what changed, when to check again."""
    last = history.latest
    n = len(history.points)
    lines = [
        f"{body_words(history.body, history.asset_tag)}, {case_words(history.case)}: "
        f"{QUANTITY_NAMES[history.quantity]} {format_ev(last.value_ev)} on {last.row.date}, "
        f"{n} {'calibration' if n == 1 else 'calibrations'}"
    ]
    trend = history.trend
    if trend is not None:
        half = 0.5 * (trend.high_ev_per_year - trend.low_ev_per_year)
        says = "a significant trend" if trend.significant else "no significant trend"
        lines.append(
            f"  {trend.slope_ev_per_year:+.3f} ± {half:.3f} EV a year, {says} "
            f"(by chance with probability {chance_words(trend.probability)})"
        )
    if history.adjusted:
        lines.append(f"  since the adjustment of {history.points[history.adjusted].row.date}")
    lines += [
        f"  ! {point.row.date}: {format_ev(point.value_ev)} lies outside of its control limits "
        f"{point.low_ev:+.2f} to {point.high_ev:+.2f} EV"
        for point in history.points
        if point.outside
    ]
    if last.change_ev is not None and last.change_significant:
        lines.append(
            f"  ! changed by {format_ev(last.change_ev)} (u {last.change_u_ev:.2f}) since the last"
        )
    lines.append(f"  next check by {history.next_check}: {history.why}")
    return "\n".join(lines)


def drift_words(found: Sequence[History], alike: Sequence[CommonDrift]) -> str:
    """Return the histories that ask for something, after those that all bodies share."""
    odd = [h for h in found if asks_for_something(h)]
    lines = [drift_headline(found), *(f"! {common_words(each)}" for each in alike)]
    shown = odd if len(found) > 3 else list(found)
    return "\n\n".join(["\n".join(lines), *(history_words(h) for h in shown)])


def drift_headline(found: Sequence[History]) -> str:
    """Return how many histories there are, how many have a trend or lie outside at last."""
    trends = sum(h.trend is not None and h.trend.significant for h in found)
    return (
        f"{len(found)} {'history' if len(found) == 1 else 'histories'}: "
        f"{trends} with a significant trend, "
        f"{sum(h.latest.outside for h in found)} outside of control limits at last"
    )


def common_words(common: CommonDrift) -> str:
    """Return what bodies that all move alike ask for."""
    make, model, serial = common.meter
    name = f"{full_name(make, model) or 'the meter'} {serial}".strip()
    return (
        f"{common.bodies} bodies move alike by {common.slope_ev_per_year:+.3f} EV a year "
        f"(u {common.u_ev_per_year:.3f}): look at {name}, or at the light, before the bodies"
    )


def asks_for_something(history: History) -> bool:
    trend = history.trend is not None and history.trend.significant
    return trend or history.latest.outside or history.early


def _meter(row: Row) -> str:
    name = full_name(row.meter_make, row.meter_model) or "a meter not named"
    return f"{name} {row.meter_serial}".strip()
