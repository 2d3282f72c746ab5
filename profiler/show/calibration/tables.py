"""What to set, channels, noise, frames, budget, labels, times, modes of a profile as tables."""

from __future__ import annotations

import math
from collections.abc import Sequence

from profiler.calibration.fit.budget import combine, coverage_factor
from profiler.exposure.stops import nearest_time_mark
from profiler.exposure.wording import format_ev
from profiler.results import BudgetRow, Channel, ProfileData, Result
from profiler.show.answer import Cell, Table
from profiler.show.channels import with_rows
from profiler.show.sources import source_words
from profiler.show.words import figures, with_half


def black_table(result: Result) -> Table:
    """Return the black level by every source, and the one that is used."""
    names = tuple(result.channels)
    rows: list[tuple[Cell, ...]] = [
        (source, *(_level_or_blank(levels.get(name)) for name in names))
        for source, levels in result.black_candidates_dn.items()
    ]
    rows.append(
        (
            "used",
            *(
                with_half(result.channels[name].black_dn, result.channels[name].black_u_dn)
                for name in names
            ),
        )
    )
    return Table(
        caption=f"Black level by source at ISO {result.iso}, {result.mode}",
        head=("source", *(f"{name}, DN" for name in names)),
        rows=tuple(rows),
        numbers=tuple(range(1, 1 + len(names))),
    )


def _level_or_blank(level_dn: float | None) -> str:
    return "" if level_dn is None else f"{level_dn:.1f}"


def channel_table(result: Result) -> Table:
    """Return black, clip, metered grey and headroom per channel."""
    rows: list[tuple[Cell, ...]] = []
    for name, channel in result.channels.items():
        bound = "" if channel.clip_seen else "at least "
        rows.append(
            (
                with_rows(name),
                with_half(channel.black_dn, channel.black_u_dn),
                bound
                + (
                    with_half(channel.clip_dn, channel.clip_u_dn)
                    if channel.clip_seen
                    else f"{channel.clip_dn:.0f}"
                ),
                with_half(channel.metered_dn, channel.metered_dn * factor(channel.metered_u_ev)),
                f"{bound}{with_half(channel.headroom_ev, max(channel.headroom_u_ev, 0.0026))}",
            )
        )
    return Table(
        caption=f"Channels at ISO {result.iso}, {result.mode}. ± without the meter's part, which "
        "all channels share.",
        head=("channel", "black, DN", "clip, DN", "grey above black, DN", "headroom, EV"),
        rows=tuple(rows),
        numbers=(1, 2, 3, 4),
    )


def factor(u_ev: float) -> float:
    """Return a relative uncertainty for one in EV."""
    return u_ev * math.log(2.0)


def has_noise(result: Result) -> bool:
    """Return whether any channel has a gain and a read noise."""
    return any(
        channel.gain_e_per_dn is not None and channel.read_noise_dn is not None
        for channel in result.channels.values()
    )


def noise_table(result: Result) -> Table:
    """Return gain, read noise, full well and dynamic range per channel."""
    rows: list[tuple[Cell, ...]] = [
        (with_rows(name), *_noise_cells(channel)) for name, channel in result.channels.items()
    ]
    return Table(
        caption=f"Noise at ISO {result.iso}, {result.mode}, of one pixel; dynamic range from clip "
        "down to SNR 1; NoiseProfile: scale and offset as DNG has them.",
        head=(
            "channel",
            "gain, e-/DN",
            "read noise, e-",
            "read noise, DN",
            "full well, e-",
            "dynamic range, EV",
            "NoiseProfile",
        ),
        rows=tuple(rows),
        numbers=(1, 2, 3, 4, 5, 6),
    )


def _noise_cells(channel: Channel) -> tuple[Cell, ...]:
    def maybe(value: float | None, count: int) -> str:
        return "-" if value is None else figures(value, count)

    gain = channel.gain_e_per_dn
    noise = channel.read_noise_e
    pair = channel.noise_profile
    return (
        "-" if gain is None else with_half(gain, channel.gain_u_e_per_dn or 0.0),
        "-" if noise is None else with_half(noise, channel.read_noise_u_e or 0.0),
        maybe(channel.read_noise_dn, 3),
        maybe(channel.full_well_e, 3),
        "-" if channel.dynamic_range_ev is None else f"{channel.dynamic_range_ev:.1f}",
        "-" if pair is None else f"{pair.scale:.3g} {pair.offset:.3g}",
    )


def emva_table(result: Result) -> Table | None:
    """Return the standard's own estimates per channel, None where no channel has them."""
    rows: list[tuple[Cell, ...]] = []
    for name, channel in result.channels.items():
        own = channel.emva
        if own is not None:
            rows.append(
                (
                    with_rows(name),
                    figures(own.gain_dn_per_e, 3),
                    figures(own.dark_noise_dn, 3),
                    figures(own.dark_noise_e, 3),
                    f"{math.log2(own.dynamic_range):.1f}",
                    f"{own.linearity_low_percent:+.1f} to {own.linearity_high_percent:+.1f}",
                )
            )
    if not rows:
        return None
    return Table(
        caption="The same by the rules of EMVA 1288, unweighted; the frames' own errors count as "
        "errors of linearity here.",
        head=(
            "channel",
            "gain K, DN/e-",
            "dark noise, DN",
            "dark noise, e-",
            "dynamic range, EV",
            "linearity, %",
        ),
        rows=tuple(rows),
        numbers=(1, 2, 3, 4, 5),
    )


def iso_table(profile: ProfileData) -> Table:
    """Return each ISO label against the next lower one."""
    rows: list[tuple[Cell, ...]] = []
    for row in profile.iso_steps:
        change = row.headroom_change_ev
        doubts = [f"part of it on the codes ({row.digital})"] if row.digital else []
        doubts += ["switches to a second gain"] if row.dual_gain else []
        rows.append(
            (
                f"{row.below} to {row.iso}",
                f"{row.asked_ev:.2f}",
                with_half(row.step_ev, row.u_ev),
                format_ev(row.step_ev - row.asked_ev).removesuffix(" EV"),
                "not seen" if change is None else format_ev(change).removesuffix(" EV"),
                ", ".join(doubts) or "no sign of either",
            )
        )
    return Table(
        caption="Steps from one ISO label to the next, at one and the same exposure",
        head=(
            "labels",
            "asked, EV",
            "step of the level, EV",
            "step error, EV",
            "change of headroom, EV",
            "on the codes, second gain",
        ),
        rows=tuple(rows),
        numbers=(1, 2, 3, 4),
    )


def shutter_table(profile: ProfileData) -> Table:
    """Return each marked time with what it gives beyond its mark."""
    return Table(
        caption="More light than the marked time states; negative: less",
        head=("marked time", "deviation, EV", "frames"),
        rows=tuple(
            (
                nearest_time_mark(row.time_s).label,
                with_half(row.deviation_ev, row.u_ev, sign=True),
                f"{row.frames}",
            )
            for row in profile.shutter
        ),
        numbers=(1, 2),
        long=True,
    )


def mode_table(profile: ProfileData) -> Table:
    """Return how far modes on one card are apart, with the part that their constants explain."""
    return Table(
        caption="Offset of the first mode minus that of the second; expected: by the meter's "
        "constants on an 18 % card",
        head=("modes", "ISO label", "apart, EV", "expected, EV", "left, EV"),
        rows=tuple(
            (
                f"{row.mode} against {row.against}",
                f"{row.iso}",
                with_half(row.gap_ev, row.u_ev, sign=True),
                format_ev(row.expected_ev).removesuffix(" EV"),
                with_half(row.left_ev, row.u_ev, sign=True),
            )
            for row in profile.modes
        ),
        numbers=(1, 2, 3, 4),
    )


def budget_tables(result: Result) -> list[Table]:
    """Return the budget of offset and headroom, and that of the saturation speed if there is one.

    The sums stand below each. A profile of an older version has no budget of the speed.
    """
    offset, speed = result.offset_ev, result.saturation_speed
    found = [
        _budget_table(
            result.budget,
            f"Budget at ISO {result.iso}, {result.mode}",
            half=0.5 * (offset.high - offset.low),
            dof=result.effective_dof,
        )
    ]
    if result.saturation_budget:
        _, dof = combine(result.saturation_budget)
        found.append(
            _budget_table(
                result.saturation_budget,
                f"Saturation speed at ISO {result.iso}, {result.mode}: an absolute figure",
                half=0.5 * math.log2(speed.high / speed.low),
                dof=None if math.isinf(dof) else dof,
            )
        )
    return found


def _budget_table(
    budget: Sequence[BudgetRow], caption: str, *, half: float, dof: float | None
) -> Table:
    u, _ = combine(budget)
    k = half / u if u > 0.0 else coverage_factor(math.inf)
    rows = sorted(budget, key=lambda row: -row.contribution_ev)
    variance = u**2 or 1.0
    blank = ("",) * 5
    return Table(
        caption=caption,
        head=(
            "source",
            "type",
            "distribution",
            "half-width, EV",
            "u, EV",
            "sensitivity",
            "degrees of freedom",
            "contribution, EV",
        ),
        rows=tuple(_budget_cells(row) for row in rows),
        foot=(
            ("combined standard uncertainty", *blank, freedom(dof), ev(u)),
            (f"expanded, 95 %, k = {k:.2f}", *blank, "", f"{half:.2f}"),
        ),
        numbers=(3, 4, 5, 6, 7),
        bars=tuple(row.contribution_ev**2 / variance for row in rows),
    )


def _budget_cells(row: BudgetRow) -> tuple[Cell, ...]:
    return (
        (source_words(row.source), row.basis.replace("+-", "±")),
        row.type,
        row.distribution,
        "" if row.half_width_ev is None else ev(row.half_width_ev),
        ev(row.u_ev),
        f"{row.sensitivity:g}",
        freedom(row.dof),
        ev(row.contribution_ev),
    )


def freedom(dof: float | None) -> str:
    """Return degrees of freedom, cut down to whole ones; ∞ where there is no limit."""
    if dof is None:
        return "∞"
    return "over 1000" if dof > 1000.0 else f"{math.floor(dof)}"


def ev(value_ev: float) -> str:
    """Return a part of a budget to a thousandth of an EV."""
    return f"{value_ev:.3f}" if value_ev >= 0.0005 or value_ev == 0.0 else "under 0.001"
