"""The frames of each ISO label in a plan, with what they can't promise."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from profiler import standards
from profiler.exposure.stops import StopStep, format_f_tenths
from profiler.onset.aperture import NARROW, band_of
from profiler.onset.camera import Aperture, CameraSetting, Shutter
from profiler.onset.plan_budget import on_the_line
from profiler.onset.plan_frames import Expected, choose_times


@dataclass(frozen=True, kw_only=True)
class PlanFrame:
    """One setting of the list, to be shot `copies` times; meter_shows: flash bracketed by power."""

    iso: int
    setting: CameraSetting
    placement_ev: float | None
    copies: int
    meter_shows: str = ""

    @property
    def dark(self) -> bool:
        """Whether the lens cap is on."""
        return self.placement_ev is None


@dataclass(frozen=True, kw_only=True)
class LabelPlan:
    """Frames of one ISO label, darkest first, dark ones last; missed_ev: placements out of reach.

    over_clip: whether a frame will lie over clip wherever it is expected.
    """

    iso: int
    frames: tuple[PlanFrame, ...]
    missed_ev: tuple[float, ...]
    over_clip: bool
    line_frames: int


def metered_time_s(
    aperture: Aperture, ev100: float, iso: int, marks: StopStep, lost_ev: float
) -> float:
    """Return the time in s that the meter asks for at an aperture: N^2 2^losses/2^EV."""
    return float(aperture.exact(marks) ** 2 * 2.0 ** (lost_ev - ev100 - math.log2(iso / 100.0)))


def timed_label(
    iso: int,
    aperture: Aperture,
    wanted: Sequence[float],
    expected: Expected,
    metered_s: float,
    times: Sequence[tuple[float, float]],
    copies: int,
) -> LabelPlan:
    """Return the frames of a label by the time, metered_s being what the meter asks for."""
    chosen, missed = choose_times(wanted, metered_s, times)
    frames = tuple(
        PlanFrame(
            iso=iso,
            setting=CameraSetting(aperture=aperture, shutter=Shutter(marked_s=marked)),
            placement_ev=placement,
            copies=copies,
        )
        for marked, placement in chosen
    )
    return _counted(iso, frames, missed, expected)


def flash_label(
    iso: int,
    setting: CameraSetting,
    wanted: Sequence[float],
    expected: Expected,
    stops: float,
    copies: int,
) -> LabelPlan:
    """Return the frames of a label by the flash: what the meter must show for each placement.

    stops: 2 log2 N of the setting, with losses.
    """
    frames = tuple(
        PlanFrame(
            iso=iso,
            setting=setting,
            placement_ev=shown - stops,
            copies=copies,
            meter_shows=f"{format_f_tenths(2.0 ** (0.5 * shown))} ISO {iso}",
        )
        for x in wanted
        for shown in (round(10.0 * (stops + x)) / 10.0,)
    )
    return _counted(iso, frames, [], expected)


def _counted(
    iso: int, frames: tuple[PlanFrame, ...], missed: Sequence[float], expected: Expected
) -> LabelPlan:
    placements = [f.placement_ev for f in frames if f.placement_ev is not None]
    top = expected.headroom_ev + expected.doubt_ev + 0.5
    return LabelPlan(
        iso=iso,
        frames=frames,
        missed_ev=tuple(missed),
        over_clip=bool(placements) and max(placements) >= top,
        line_frames=sum(
            f.copies
            for f in frames
            if f.placement_ev is not None and on_the_line(f.placement_ev, expected.headroom_ev)
        ),
    )


def dark_frames(iso: int, aperture: Aperture, darks: int) -> tuple[PlanFrame, ...]:
    """Return the lens-cap frames of a label, none where none are wanted."""
    if not darks:
        return ()
    setting = CameraSetting(aperture=aperture, shutter=Shutter(marked_s=1.0 / 125.0))
    return (PlanFrame(iso=iso, setting=setting, placement_ev=None, copies=darks),)


def seconds_for(frame: PlanFrame) -> float:
    """Return the seconds at the camera; a long time may count twice, for the body's dark frame."""
    shutter = frame.setting.shutter
    one = 0.0 if shutter is None else shutter.marked_s
    one *= 2.0 if one >= standards.LONG_TIME_S else 1.0
    return standards.PLAN_FRAME_S + frame.copies * (one + 1.0)


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
        found.append(
            "no single light suits all ISO labels: the darkest frames of some are left out"
        )
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
