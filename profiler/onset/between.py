"""A result for an ISO label that lies between measured ones, where the steps around it allow one.

What a body does between the labels that were measured isn't known: it may turn its amplifier up a
third of a stop, or keep the gain of a neighbour and multiply the codes, or do nothing but write
another number into the file. Each moves the headroom by up to the distance to that neighbour. So
the answer is drawn from both neighbours with that distance as its margin, U-shaped, for either is
likelier than the middle; unless other labels of the same third of a stop were measured, which show
what this body does there. Across a step that was made on the codes, or at which a second gain
begins, nothing is answered.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

from profiler.calibration.fit import budget
from profiler.errors import ProfileError
from profiler.onset import lookup, margins
from profiler.records import moved
from profiler.results import BudgetRow, ProfileData, Result, Source, Span

_THIRDS: Final = 3
_LEAST_ALIKE: Final = 2
"""Labels of one third of a stop that must agree before they speak for another one."""
_SIGMAS: Final = 3.0
_STILL_EV: Final = 0.1
"""Change of headroom over a step that labels of one gain show (common practice, no source)."""
_LEAST_STEP_EV: Final = 0.02
"""What a label's gain may be off by at least (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class _Around:
    """The measured labels below and above, and how far up between them the wanted one lies."""

    low: Result
    high: Result
    part: float

    def mixed(self, low: float, high: float) -> float:
        return low + self.part * (high - low)


def find_label(
    data: ProfileData,
    iso: int,
    mode: str | None = None,
    light: str | None = None,
    aperture: float | None = None,
    *,
    between: bool = False,
) -> Result:
    """Return the result for a label, as lookup.find; between: also where only neighbours are held.

    The result then has the row Source.BETWEEN_LABELS in its budget and no footroom. ProfileError
    where the step between the neighbours isn't one of gain alone, or can't be told to be.
    """
    held = lookup.labels(data, mode, light)
    below, above = [x for x in held if x < iso], [x for x in held if x > iso]
    if not between or iso in held or not held:
        return lookup.find(data, iso, mode, light, aperture)
    if not below or not above:
        raise ProfileError(
            f"ISO {iso} doesn't lie between two measured labels",
            lookup.profile_name(data),
            f"It holds {lookup.holdings(data)}; calibrate what is missing",
            "iso",
        )
    low, high = (lookup.find(data, x, mode, light, aperture) for x in (below[-1], above[0]))
    _check_step(data, iso, low, high)
    part = math.log2(iso / low.iso) / math.log2(high.iso / low.iso)
    return _made(data, iso, _Around(low=low, high=high, part=part))


def is_between(result: Result) -> BudgetRow | None:
    """Return the largest row of a label that was not measured itself, None for one that was."""
    rows = [row for row in result.budget if row.source == Source.BETWEEN_LABELS]
    return max(rows, key=lambda row: row.contribution_ev) if rows else None


def _check_step(data: ProfileData, iso: int, low: Result, high: Result) -> None:
    """ProfileError where the labels around don't stand for what lies between them."""
    step = next((s for s in data.iso_steps if (s.below, s.iso) == (low.iso, high.iso)), None)
    why = ""
    if (low.mode, low.light) != (high.mode, high.light):
        why = "they were measured in different modes or lights"
    elif low.clip_headroom_ev.lower_bound or high.clip_headroom_ev.lower_bound:
        why = "clip was not seen at both of them"
    elif step is None or not (_has_pairs(low) and _has_pairs(high)):
        why = "without two of each frame it isn't known whether a second gain begins between them"
    elif step.dual_gain:
        why = "a second gain begins between them"
    elif step.digital:
        why = "the step between them is made on the codes, not by the gain"
    else:
        change = high.clip_headroom_ev.value - low.clip_headroom_ev.value
        if abs(change) > max(_STILL_EV, _SIGMAS * step.u_ev):
            why = f"headroom changes by {change:+.2f} EV between them, not by gain alone"
    if why:
        raise ProfileError(
            f"ISO {iso} can't be told from ISO {low.iso} and {high.iso}: {why}",
            lookup.profile_name(data),
            f"Use one of the measured labels ({lookup.holdings(data)}), or calibrate ISO {iso}",
            "iso",
        )


def _has_pairs(result: Result) -> bool:
    channel = result.channels[margins.first_channel(result)]
    bounds = any(flag.name == "noise-upper-bound" for flag in result.flags)
    return channel.read_noise_e is not None and not bounds


def _made(data: ProfileData, iso: int, around: _Around) -> Result:
    low, high = around.low, around.high
    base = low if around.part < 0.5 else high
    shift, rows = _between_rows(data, iso, around)
    value = shift + around.mixed(low.clip_headroom_ev.value, high.clip_headroom_ev.value)
    budget_rows = (*base.budget, *rows)
    headroom = margins.estimate(value, budget_rows)
    offset = moved(headroom, -base.aim_stops)
    ends = sorted(iso / 2.0**ev for ev in (offset.low, offset.high))
    rise = (iso / base.iso) * 2.0 ** (base.clip_headroom_ev.value - value)
    speed = base.saturation_speed
    return replace(
        base,
        iso=iso,
        offset_ev=offset,
        exposure_index=Span(value=iso / 2.0**offset.value, low=ends[0], high=ends[1]),
        saturation_speed=Span(
            value=rise * speed.value, low=rise * speed.low, high=rise * speed.high
        ),
        clip_headroom_ev=headroom,
        linear_headroom_ev=replace(
            moved(base.linear_headroom_ev, value - base.clip_headroom_ev.value), lower_bound=True
        ),
        footroom_ev=None,
        channels={
            name: replace(
                channel,
                headroom_ev=shift
                + around.mixed(low.channels[name].headroom_ev, high.channels[name].headroom_ev),
            )
            for name, channel in base.channels.items()
        },
        budget=budget_rows,
        at_measured_aperture=None,
        flags=(*low.flags, *high.flags),
    )


def _between_rows(
    data: ProfileData, iso: int, around: _Around
) -> tuple[float, tuple[BudgetRow, ...]]:
    """What measured labels of the same third of a stop add to the headroom, and the rows."""
    low, high = around.low, around.high
    steps = [step.step_ev - step.asked_ev for step in data.iso_steps]
    scatter = math.sqrt(math.fsum(error**2 for error in steps) / len(steps))
    change = 0.5 * abs(high.clip_headroom_ev.value - low.clip_headroom_ev.value)
    rows = [
        budget.stated(
            Source.BETWEEN_LABELS,
            math.hypot(max(scatter, _LEAST_STEP_EV), change / math.sqrt(3.0)),
            f"gain of the labels from ISO {low.iso} to {high.iso}, as measured steps scatter",
        )
    ]
    alike = _alike(data, iso, low)
    if _third(iso, low.iso) == 0 and _third(high.iso, low.iso) == 0:
        return 0.0, tuple(rows)  # a full stop between full stops: made by gain, as they are
    if len(alike) >= _LEAST_ALIKE:
        spread = 0.5 * (max(alike) - min(alike))
        rows.append(
            budget.bounded(
                Source.BETWEEN_LABELS,
                spread,
                f"{len(alike)} measured labels of the same third of a stop",
                distribution="arcsine",
            )
        )
        return math.fsum(alike) / len(alike), tuple(rows)
    reach = min(math.log2(iso / low.iso), math.log2(high.iso / iso))
    rows.append(
        budget.bounded(
            Source.BETWEEN_LABELS,
            reach,
            f"ISO {iso} may have the gain of ISO {low.iso} or {high.iso}",
            distribution="arcsine",
        )
    )
    return 0.0, tuple(rows)


def _alike(data: ProfileData, iso: int, like: Result) -> list[float]:
    """How far labels of the same third of a stop lie off the line of their full-stop neighbours."""
    series = {
        r.iso: r.clip_headroom_ev.value
        for r in data.results
        if (r.mode, r.light) == (like.mode, like.light) and not r.clip_headroom_ev.lower_bound
    }
    third = _third(iso, like.iso)
    full = sorted(x for x in series if _third(x, like.iso) == 0)
    off = []
    for label in (x for x in series if _third(x, like.iso) == third):
        below, above = [x for x in full if x < label], [x for x in full if x > label]
        if below and above:
            off.append(series[label] - _on_line(series, below[-1], above[0], label))
    return off


def _on_line(series: dict[int, float], low: int, high: int, label: int) -> float:
    part = math.log2(label / low) / math.log2(high / low)
    return series[low] + part * (series[high] - series[low])


def _third(iso: int, base: int) -> int:
    """Thirds of a stop, 0 to 2, by which a label lies above full stops from a base."""
    return round(_THIRDS * math.log2(iso / base)) % _THIRDS
