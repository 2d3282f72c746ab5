"""What a plan can't promise, with what would help."""

from __future__ import annotations

from collections.abc import Sequence

from profiler import standards
from profiler.onset.aperture import NARROW, band_of
from profiler.onset.camera import Aperture
from profiler.onset.plan_labels import LabelPlan


def plan_warnings(
    labels: Sequence[LabelPlan],
    aperture: Aperture,
    *,
    unsure_mains: bool,
    no_one_light: bool,
    darks: int,
    copies: int,
) -> tuple[str, ...]:
    """Return what falls short, one sentence each."""
    found = []
    for label in labels:
        if not label.over_clip:
            found.append(
                f"ISO {label.iso}: no frame is sure to lie over clip, so headroom may stay a lower "
                "bound; bring more light, open the iris or allow longer times"
            )
        if label.line_frames < standards.FEW_FRAMES:
            found.append(
                f"ISO {label.iso}: too few frames lie on the straight part ({label.line_frames}); "
                "less light, a neutral density filter or shorter times give more"
            )
        elif label.missed_ev and label.over_clip:
            found.append(
                f"ISO {label.iso}: no usable time for "
                + ", ".join(f"{missed:+.1f}" for missed in label.missed_ev)
                + " EV over the grey"
            )
    if no_one_light:
        found.append("no one light suits all ISO labels: the darkest frames of some are left out")
    if aperture.word == "f" and not 3.9 < aperture.exact() < 8.1:
        band = band_of(aperture.marked)
        found.append(
            f"{aperture.label} lies outside f/4 to f/8: the result will hold for {band}"
            + ("" if band == NARROW else ", at this aperture only")
        )
    if unsure_mains:
        found.append("this light may pulse with the mains: say whether they run at 50 or 60 Hz")
    if copies < 2:
        found.append("without two of each frame noise and floor are upper bounds")
    if not darks:
        found.append("without lens-cap frames black rests on the file's own word")
    return tuple(found)
