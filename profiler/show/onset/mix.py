"""Mixed light, lighting ratio, conversions in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from profiler.exposure.wording import format_f_tenths, format_time
from profiler.show.onset.text import INTERVALS, amount, facts, stops

if TYPE_CHECKING:
    from profiler.onset.conversion import Conversion
    from profiler.onset.mix import Mix, Part, Ratio
    from profiler.onset.mix_camera import MixCamera
    from profiler.records import Estimate

_HEADS = {"light": ("EV at ISO 100", "luminance", "illuminance")}
TWO_TENTHS = "f/8+3 is f/8 with three tenths of a stop more light."


def mix_words(mixed: Mix, camera: MixCamera | None = None) -> str:
    """Return the sum and the flash's share in one line, then the parts, then what to change."""
    lines = [mix_headline(mixed, camera), ""]
    rows = [(f"flash {i}", part_words(part)) for i, part in enumerate(mixed.flashes, start=1)]
    rows = rows if len(rows) > 1 else []
    pops = f", {mixed.pops} pops" if mixed.pops > 1 else ""
    rows.append(("flash alone", part_words(mixed.flash) + pops))
    if mixed.ambient is not None:
        at = "" if mixed.time_s is None else f" at {format_time(mixed.time_s)}"
        rows.append(("ambient", part_words(mixed.ambient) + at))
    rows.append(("together", f"{part_words(mixed.total)}, at ISO {mixed.iso:g}"))
    if mixed.over_ambient_ev is not None:
        rows.append(("flash", f"{stops(mixed.over_ambient_ev, 'over', 'under')} the ambient light"))
    if mixed.holds is not None and mixed.ambient is not None:
        said = {"alone": "alone", "with-ambient": "with the ambient light, which was taken off"}
        rows.append(("flash was read", said[mixed.holds]))
    lines += facts(rows)
    if mixed.change is not None:
        lines += ["", *change_lines(mixed)]
    if camera is not None:
        lines += ["", *facts(camera_rows(camera))]
    return "\n".join([*lines, "", TWO_TENTHS, INTERVALS])


def mix_headline(mixed: Mix, camera: MixCamera | None) -> str:
    """Return the whole light, the share of flash and, on a body, the f-number to set."""
    text = (
        f"Together {format_f_tenths(mixed.total.f_number)} (± {half(mixed.total.stops):.1f} stop)"
    )
    if mixed.share is not None:
        text += f", {percent(mixed.share)} of it flash"
    if camera is not None:
        text += f": set {camera.mark.label} at ISO {camera.iso}"
    return f"{text}."


def part_words(part: Part) -> str:
    """Return a light as the f-number that it asks for, in tenths of a stop."""
    return f"{format_f_tenths(part.f_number)} (± {half(part.stops):.1f} stop)"


def change_lines(mixed: Mix) -> list[str]:
    """Return the ways to the wanted share, one line each."""
    change = mixed.change
    if change is None:
        return []
    wanted = f"{100.0 * change.share:.0f} % flash"
    if amount(change.power_ev) == "nothing":
        return [f"  The light is already mixed that way: {wanted}."]
    over = amount(change.over_ambient_ev, "over", "under")
    away = "nearer" if change.distance_factor < 1.0 else "further off"
    iris = amount(change.close_after_power_ev, "closed", "opened")
    time_iris = amount(change.close_after_time_ev, "closed", "opened")
    time = "" if change.time_s is None else f", {format_time(change.time_s)}"
    longer = "longer" if change.time_ev > 0.0 else "shorter"
    return [
        f"  For {wanted} ({'equal to' if over == 'nothing' else over} the ambient light) either",
        *facts(
            [
                ("power", f"{amount(change.power_ev)} flash, then the iris: {iris}"),
                (
                    "or distance",
                    f"flash at {change.distance_factor:.2f} x its distance ({away}), "
                    f"then the iris: {iris}",
                ),
                (
                    "or time",
                    f"{change.time_factor:.2f} x the time ({longer}{time}; not below sync), "
                    f"then the iris: {time_iris}",
                ),
            ]
        ),
        "  The iris alone changes flash and ambient light alike, never the share.",
    ]


def camera_rows(camera: MixCamera) -> list[tuple[str, str]]:
    """Return the camera's f-number with the profile's offset in it."""
    rest = amount(camera.left_ev, "still to give", "too much")
    return [
        ("offset", f"{amount(camera.offset_ev)} than the meter says ({camera.mode}, in it)"),
        ("camera", f"{camera.mark.label} leaves {'nothing over' if rest == 'nothing' else rest}"),
        ("grey", stops(camera.below_clip_ev, "below clip", "above clip")),
    ]


def ratio_words(ratio: Ratio) -> str:
    """Return the lighting ratio by both definitions, said out loud."""
    both, plain = ratio.lighting_ratio, ratio.key_to_fill
    lines = [
        f"Lighting ratio {both.value:.1f}:1 as (key + fill) : fill; key : fill is "
        f"{plain.value:.1f}:1.",
        "",
        *facts(
            [
                ("(key + fill) : fill", f"{span(both)}, lit side to shadow side"),
                ("key : fill", span(plain)),
                ("key over fill", stops(ratio.key_over_fill_ev, "over", "under")),
                ("lit over shadow", f"{ratio.lit_over_shadow_ev:.1f} stops"),
            ]
        ),
        "",
        "Key and fill were each read alone. " + INTERVALS,
    ]
    return "\n".join(lines)


def conversion_words(conversion: Conversion) -> str:
    """Return the main figures in one line, then every line with its rule."""
    names = _HEADS.get(conversion.kind, ())
    chosen = [line for line in conversion.lines if line.name in names] or conversion.lines[:2]
    shown = ", ".join(f"{line.name} = {line.text}" for line in chosen)
    head = f"{conversion.text}: {shown}."
    rows = [
        (line.name, line.text + (f"   [{line.rule}]" if line.rule else ""))
        for line in conversion.lines
    ]
    closing = "Exact arithmetic; a reading keeps its own ± 0.1 EV and a mark its step."
    return "\n".join([head, "", *facts(rows), "", closing])


def half(estimate: Estimate) -> float:
    """Return half a 95 % interval, no smaller than a tenth."""
    return max(0.5 * (estimate.high - estimate.low), 0.1)


def percent(share: Estimate) -> str:
    """Return a share in percent with its interval: `80 % (78 to 82)`."""
    return f"{100.0 * share.value:.0f} % ({100.0 * share.low:.0f} to {100.0 * share.high:.0f})"


def span(ratio: Estimate) -> str:
    """Return a ratio with its interval: `5.0:1 (4.6 to 5.5)`."""
    return f"{ratio.value:.1f}:1 ({ratio.low:.1f} to {ratio.high:.1f})"
