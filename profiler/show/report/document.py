"""The report of a profile as HTML: a fragment for another page, or a page of its own."""

from __future__ import annotations

import base64
from dataclasses import dataclass

from profiler import standards
from profiler.errors import GreytareError
from profiler.exposure.light import metered_focal_plane_exposure_lx_s, stops_below_saturation
from profiler.records import Meter
from profiler.results import ProfileData, Result
from profiler.show import plots
from profiler.show.answer import Answer, Table
from profiler.show.calibration import tables
from profiler.show.calibration.bars import READ, bars_of
from profiler.show.calibration.first import first_table, numbers_table
from profiler.show.calibration.frames import frame_table
from profiler.show.calibration.identity import title
from profiler.show.calibration.profile import profile_answer
from profiler.show.drawing import drawing
from profiler.show.templating import fill, plain


def patch_words(patch: str) -> str:
    """Return where the patch lies."""
    numbers = patch.split()
    if len(numbers) == 4 and all(number.isdigit() for number in numbers):
        x, y, width, height = numbers
        return f"{width} × {height} px, its upper left corner {x} px from the left and {y} px down"
    return patch or "not kept"


def three_zeros(profile: ProfileData) -> str:
    """Return why a metered grey lies at different places below clip, with nothing wrong.

    ISO 12232:2006 10/S and 78/S; spot H = qK/S; incident H = q R C/(pi S), R = 18 %
    (ISO 2720:1974 constants as the profile's meter has them).
    """
    own = profile.meter
    meter = Meter(k_cd_m2=own.k_cd_m2, c_flat_lx=own.c_flat_lx, c_dome_lx=own.c_dome_lx)
    spot, flat = (
        float(stops_below_saturation(metered_focal_plane_exposure_lx_s(mode, meter, 1.0)))
        for mode in ("spot", "incident-flat")
    )
    mean = standards.AIM_ISO12232_STOPS
    gap = spot - mean
    verb = "more" if gap > 0.0 else "less"
    return (
        "Where should a metered grey lie on a body whose saturation speed equals its ISO label? "
        "There are three answers that must not be mixed. "
        f"ISO 12232's own mean exposure, 10/S, lies {mean:.2f} stops below clip. "
        f"A spot reading with K {own.k_cd_m2:g} cd/m² lies {spot:.2f} below, whatever the card. "
        f"An 18 % card under an incident reading, flat receptor, with C {own.c_flat_lx:g} lx lies "
        f"{flat:.2f} below. So this meter in spot mode asks for an offset of {gap:+.2f} EV "
        f"(give {abs(gap):.1f} stop {verb}) against the first answer even where nothing is wrong. "
        "Offsets here are against the aim that each result names."
    )


def reading_notes() -> tuple[str, ...]:
    """Return how signs, intervals and bounds are meant."""
    return (
        "A headroom that is a lower bound, because no frame reached clip, makes the offset a "
        "lower bound and the EI an upper one; both say so.",
        "A result holds for its ISO label, meter mode, light and apertures. What was not measured "
        "is not here: measure it before you rely on it.",
        "EI is the ISO number that puts the offset into the meter. The saturation speed is another "
        "number: ISO 12232's S_sat = 78/H_sat. It is absolute, so it rests on the meter's K or C, "
        "on what the lens passes (90 % assumed) and on the patch's place in the frame (q = 0.65 "
        "assumed) besides, and has a budget of its own.",
    )


SECTIONS = (
    ("gt-first", "What to do first"),
    ("gt-response", "Response"),
    ("gt-clip", "Clip"),
    ("gt-transfer", "Photon transfer"),
    ("gt-iso", "ISO behaviour"),
    ("gt-shutter", "Shutter"),
    ("gt-modes", "Modes compared"),
    ("gt-budget", "Uncertainty budget"),
    ("gt-flags", "Flags"),
    ("gt-patch", "Patch"),
    ("gt-provenance", "Provenance"),
    ("gt-reading", "How to read this"),
)
"""Id and heading of each section, in order."""

_SIGNATURES = ((b"\x89PNG\r\n\x1a\n", "image/png"), (b"\xff\xd8\xff", "image/jpeg"))


@dataclass(frozen=True, kw_only=True)
class Part:
    """All that a report says of one result."""

    answer: Answer
    response: str
    clip: str
    transfer: str
    frames: Table
    black: Table
    channels: Table
    noise: Table
    emva: Table | None
    budgets: list[Table]


def report_body(profile: ProfileData, *, preview: bytes | None = None) -> str:
    """Return the report as an HTML fragment, headings from h2, to stand in a page with its style.

    preview: the picture of a frame with the patch, PNG or JPEG.
    """
    results, answer = profile.results, profile_answer(profile)
    labels = {result.iso for result in results}
    return fill(
        "report_body.html",
        sections=dict(SECTIONS),
        answer=answer,
        bars=drawing(bars_of(profile)),
        bars_read=READ,
        first=first_table(profile),
        numbers=numbers_table(profile),
        parts=[_part(profile, k, part) for k, part in enumerate(answer.parts)],
        flagged=any(part.notes or part.missing for part in answer.parts),
        points_kept=any(c.transfer_points for r in results for c in r.channels.values()),
        iso_plot=_svg(profile, "iso", words=_iso_words(profile)) if len(labels) > 1 else "",
        iso_steps=tables.iso_table(profile) if profile.iso_steps else None,
        shutter_plot=_svg(profile, "shutter", words="Error of each marked time, in EV")
        if profile.shutter
        else "",
        shutter=tables.shutter_table(profile) if profile.shutter else None,
        modes=tables.mode_table(profile) if profile.modes else None,
        preview=_data_address(preview),
        patch=patch_words(profile.provenance.patch),
        provenance=profile.provenance,
        three_zeros=three_zeros(profile),
        notes=reading_notes(),
    )


def report_page(profile: ProfileData, *, preview: bytes | None = None) -> str:
    """Return the report as one HTML file that asks for nothing from outside and needs no script."""
    return fill(
        "report_page.html",
        title=title(profile),
        software=profile.provenance.software,
        sections=SECTIONS,
        style=report_css(),
        page_style=plain("page.css"),
        body=report_body(profile, preview=preview),
    )


def report_css() -> str:
    """Return the style of the fragment; every rule is below .gt-report."""
    return plain("report.css")


def _part(profile: ProfileData, k: int, answer: Answer) -> Part:
    result = profile.results[k]
    return Part(
        answer=answer,
        response=_svg(profile, "response", result, k, plots.alt_text(result)),
        clip=_svg(profile, "clip", result, k, _clip_words(result)),
        transfer=_svg(profile, "transfer", result, k, "Variance of the noise against signal")
        if tables.has_noise(result)
        else "",
        frames=frame_table(result),
        black=tables.black_table(result),
        channels=tables.channel_table(result),
        noise=tables.noise_table(result),
        emva=tables.emva_table(result),
        budgets=tables.budget_tables(result),
    )


def _svg(
    profile: ProfileData, name: str, result: Result | None = None, k: int = 0, words: str = ""
) -> str:
    figure = plots.PLOTS[name](profile, result)
    return plots.figure_svg(figure, f"gt-plot-{name}-{k}", words)


def _clip_words(result: Result) -> str:
    ends = ", ".join(f"{name} {c.headroom_ev:.2f}" for name, c in result.channels.items())
    return f"Clip at ISO {result.iso}: stops above the metered grey per channel: {ends}"


def _iso_words(profile: ProfileData) -> str:
    labels = ", ".join(str(label) for label in sorted({r.iso for r in profile.results}))
    return f"Headroom, step error and read noise at ISO {labels}; the numbers are in the tables"


def _data_address(picture: bytes | None) -> str:
    """The picture as an address that holds it; empty without one."""
    if picture is None:
        return ""
    for signature, kind in _SIGNATURES:
        if picture.startswith(signature):
            return f"data:{kind};base64,{base64.b64encode(picture).decode()}"
    raise GreytareError(
        "the preview is neither PNG nor JPEG",
        "preview of the patch",
        "Give the picture of the patch that was written when the frames were measured",
        "preview",
    )
