"""A profile in words: what to dial in first, the detail below."""

from __future__ import annotations

from collections.abc import Sequence

from profiler import flags, standards
from profiler.calibration.fit.budget import combine
from profiler.exposure.aims import AIMS
from profiler.exposure.stops import nearest_time_mark
from profiler.exposure.wording import format_ev
from profiler.onset.dial import dial
from profiler.records import Flag
from profiler.results import BudgetRow, ProfileData, Result
from profiler.show.channels import colour_name
from profiler.show.meter import disagreement
from profiler.show.words import INTERVALS, plus_minus, signed, speed, three_figures


def describe(profile: ProfileData, *, budget: bool = False) -> str:
    """Return all results, one paragraph each, with the flags under them; budgets on demand."""
    parts = [heading(profile), *(paragraph(r, budget=budget) for r in profile.results)]
    tables = (mode_words(profile), iso_words(profile), shutter_words(profile))
    parts += ["\n".join(lines) for lines in tables if lines]
    return "\n\n".join([*parts, INTERVALS])


def heading(profile: ProfileData) -> str:
    """Return who is who: body, lens, meter."""
    camera, lens, meter = profile.camera, profile.lens, profile.meter
    named = full_name(camera.make, camera.model)
    body = named or "body not named in its files"
    number = f" (serial {camera.serial})" if camera.serial else ""
    if named and not camera.serial:
        number = " (its files give no serial number)"
    meter_name = full_name(meter.make, meter.model) or "meter not named"
    lines = [
        f"Body   {body}{number}",
        f"Lens   {lens.model or 'not named'}",
        f"Meter  {meter_name}, K {meter.k_cd_m2:g} cd/m2, C {meter.c_flat_lx:g} lx flat, "
        f"{meter.c_dome_lx:g} lx dome",
    ]
    return "\n".join(lines)


def full_name(make: str, model: str) -> str:
    """Return make and model, the make once where the model repeats it."""
    return model if model.lower().startswith(make.lower()) else f"{make} {model}".strip()


def headline(result: Result) -> str:
    """Return the sentences that a photographer acts on."""
    first = colour_name(result.first_to_clip)
    headroom = plus_minus(result.clip_headroom_ev, "stops")
    return (
        f"{disagreement(dial(result, result.aim_stops), result.iso)} "
        f"{headroom[0].upper()}{headroom[1:]} from the metered grey to clipping, {first} first."
    )


def paragraph(result: Result, *, budget: bool = False) -> str:
    """Return one result: headline, facts, flags."""
    lines = [headline(result), ""]
    facts = [
        ("meter mode, light", f"{result.mode}, {result.light}"),
        ("aim", aim_words(result.aim_stops)),
        ("offset", f"{signed(result.offset_ev)} EV, to be added to the metered exposure"),
        ("exposure index", speed(result.exposure_index)),
        ("saturation speed", f"{speed(result.saturation_speed)}, {speed_words(result)}"),
        ("straight line", linear_words(result)),
        ("footroom", footroom_words(result)),
        ("black from", result.black_source),
        ("shutter times", time_words(result)),
        ("frames", frame_words(result)),
    ]
    width = max(len(name) for name, _ in facts)
    lines += [f"  {name:<{width}}  {text}" for name, text in facts]
    lines += ["", *channel_table(result)]
    if budget:
        lines += ["", *budget_table(result), *speed_budget_table(result)]
    if result.flags:
        lines += ["", *(f"  ! {flag_words(flag)}" for flag in result.flags)]
    return "\n".join(lines)


def speed_words(result: Result) -> str:
    """Return what kind of number the saturation speed is, and what its interval holds."""
    if not result.saturation_budget:
        return (
            "ISO 12232 S_sat: an absolute figure, whose interval leaves out the meter's constant "
            "and the lens (fit again)"
        )
    return "ISO 12232 S_sat: an absolute figure, with the meter's constant and the lens assumed"


def speed_budget_table(result: Result) -> list[str]:
    """Return the budget of the saturation speed as an aligned table under its name, if any."""
    rows = result.saturation_budget
    if not rows:
        return []
    u, _ = combine(rows)
    sums = ("combined", "", "", f"{u:.3f}", "", "of log2 S_sat")
    return ["", "  Saturation speed alone:", *aligned([*_budget_rows(rows), sums])]


def budget_table(result: Result) -> list[str]:
    """Return the uncertainty budget as an aligned table, largest contribution first."""
    rows = _budget_rows(result.budget)
    rows.append(("combined", "", "", f"{result.offset_ev.u:.3f}", "", _dof_words(result)))
    return aligned(rows)


def _budget_rows(budget: Sequence[BudgetRow]) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = [
        ("source", "type", "distribution", "u EV", "contribution EV", "basis")
    ]
    for row in sorted(budget, key=lambda r: -r.contribution_ev):
        rows.append(
            (
                row.source,
                row.type,
                row.distribution,
                f"{row.u_ev:.3f}",
                f"{row.contribution_ev:.3f}",
                row.basis,
            )
        )
    return rows


def _dof_words(result: Result) -> str:
    half = 0.5 * (result.offset_ev.high - result.offset_ev.low)
    dof = result.effective_dof
    shown = "very many" if dof is None or dof > 999 else f"{dof:.0f}"
    return f"{shown} effective degrees of freedom; expanded (95 %) {half:.2f} EV"


def mode_words(profile: ProfileData) -> list[str]:
    """Return how two modes on one card differ, and what the constants alone would give."""
    if not profile.modes:
        return []
    lines = ["Two modes on one card: offset of the first less offset of the second"]
    for row in profile.modes:
        lines.append(
            f"  ISO {row.iso}: {row.mode} against {row.against} {format_ev(row.gap_ev)}, "
            f"by their constants alone {format_ev(row.expected_ev)}, "
            f"left over {format_ev(row.left_ev)} (u {row.u_ev:.2f})"
        )
    return lines


def iso_words(profile: ProfileData) -> list[str]:
    """Return what each ISO label does against the one below it."""
    lines = []
    for step in profile.iso_steps:
        words = [f"asked {step.asked_ev:.2f} EV, got {step.step_ev:.2f} ± {2 * step.u_ev:.2f}"]
        if step.headroom_change_ev is not None:
            words.append(f"headroom {format_ev(step.headroom_change_ev)}")
        if step.digital:
            words.append(
                "made by multiplying codes"
                if step.digital == "push"
                else "the same gain, relabelled"
            )
        if step.dual_gain:
            words.append("read noise drops: a second gain begins here")
        lines.append(f"  {step.below} to {step.iso}: {', '.join(words)}")
    return ["ISO labels against each other", *lines] if lines else []


def shutter_words(profile: ProfileData) -> list[str]:
    """Return the shutter's deviations, where one stands out of its uncertainty."""
    odd = [row for row in profile.shutter if abs(row.deviation_ev) > max(2.0 * row.u_ev, 0.03)]
    if not odd:
        return []
    shown = ", ".join(
        f"{nearest_time_mark(row.time_s).label} {format_ev(row.deviation_ev)} (u {row.u_ev:.2f})"
        for row in odd
    )
    return [f"Shutter times off by more than their uncertainty: {shown}"]


def aligned(rows: Sequence[tuple[str, ...]]) -> list[str]:
    """Return rows as text with columns left-aligned."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return [
        "  " + "  ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]


def aim_words(stops: float) -> str:
    """Return the aim in words."""
    names = {round(value, 6): name for name, value in AIMS.items()}
    name = names.get(round(stops, 6))
    explained = {
        "iso12232": "where ISO 12232 puts a mean grey (10/S against 78/S)",
        "white-at-clip": "an 18 % grey where a perfect white just clips",
    }
    return f"grey {stops:.2f} stops below clip" + (f": {explained[name]}" if name else "")


def linear_words(result: Result) -> str:
    """Return where the straight line ends."""
    linear = result.linear_headroom_ev
    if linear.lower_bound:
        return f"holds {plus_minus(linear, 'stops')} up from the grey"
    percent = 100.0 * standards.BEND_FRACTION
    return f"leaves it by {percent:g} % at {plus_minus(linear, 'stops')} above the grey"


def footroom_words(result: Result) -> str:
    """Return stops down to the floor."""
    footroom = result.footroom_ev
    if footroom is None:
        return "not measured"
    colour = colour_name(footroom.channel)
    upper = footroom.snr10.lower_bound
    return (
        f"{'at least ' if upper else ''}{footroom.snr10.value:.1f} stops down to SNR 10, "
        f"{footroom.snr1.value:.1f} to SNR 1 ({colour}, one pixel)"
    )


def time_words(result: Result) -> str:
    """Return which time rule was used, with both residuals."""
    rule = result.time_rule
    if abs(rule.rms_exact_ev - rule.rms_as_marked_ev) < 1e-9:
        return f"exact and marked times agree, residual {rule.rms_exact_ev:.3f} EV rms"
    return (
        f"{rule.used} (residual {rule.rms_exact_ev:.3f} EV rms with exact times, "
        f"{rule.rms_as_marked_ev:.3f} with marked ones)"
    )


def frame_words(result: Result) -> str:
    """Return how many frames counted."""
    used = sum(frame.used for frame in result.frames)
    return (
        f"{used} of {len(result.frames)} lie on the line, scatter {result.frame_scatter_ev:.2f} EV"
    )


def channel_table(result: Result) -> list[str]:
    """Return the channels as an aligned table."""
    rows = [("channel", "black DN", "clip DN", "grey DN", "headroom EV", "e-/DN", "read noise e-")]
    for name, channel in result.channels.items():
        bound = "" if channel.clip_seen else ">= "
        rows.append(
            (
                name,
                f"{channel.black_dn:.1f}",
                f"{bound}{channel.clip_dn:.0f}",
                f"{channel.metered_dn:.0f}",
                f"{bound}{channel.headroom_ev:.2f}",
                "-" if channel.gain_e_per_dn is None else f"{channel.gain_e_per_dn:.3g}",
                "-" if channel.read_noise_e is None else f"{channel.read_noise_e:.2g}",
            )
        )
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return ["  " + "  ".join(c.rjust(w) for c, w in zip(r, widths, strict=True)) for r in rows]


def flag_words(flag: Flag) -> str:
    """Return a flag as one line: what, how much, what to do."""
    size = format_ev(flag.size) if flag.unit == "EV" else f"{three_figures(flag.size)} {flag.unit}"
    where = f"{flag.where}: " if flag.where else ""
    detail = f" {flag.detail}" if flag.detail else ""
    return f"{where}{flag.name}, {size}{detail}: {flags.meaning(flag)}. {flags.advice(flag)}."
