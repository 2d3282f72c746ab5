"""A result as another lens of the body sees it: the same sensor, less light.

Let l be the stops that a lens at a mark gives less than the calibrated lens at its aperture, both
by their marks. Then the metered level lies l lower, headroom and offset are l more, footroom is l
less. Where that very mark was measured, the errors of both irises are inside l and don't count
again; at another mark the lens's light loss stands for it, and the iris counts as usual.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from profiler.calibration.fit import budget
from profiler.errors import ExposureError, ProfileError
from profiler.onset import margins
from profiler.onset.aperture import (
    accepts,
    check_aperture,
    measured_apertures,
    same_mark,
)
from profiler.onset.camera import Aperture, parse_aperture
from profiler.records import Estimate, opposite
from profiler.results import (
    LensesData,
    LensIdentity,
    LensLight,
    LensMark,
    ProfileData,
    Result,
    Source,
    Span,
)


def find_lens(lenses: LensesData, name: str) -> LensLight:
    """Return the lens of that name, or the only one whose name holds it; ProfileError lists all."""
    wanted = " ".join(name.split()).casefold()
    same = [lens for lens in lenses.lenses if lens.model.casefold() == wanted]
    found = same or [lens for lens in lenses.lenses if wanted and wanted in lens.model.casefold()]
    if len(found) == 1:
        return found[0]
    raise ProfileError(
        f"{len(found)} lenses of that name" if found else f"no lens {name!r} was measured",
        "the lenses",
        f"It holds {', '.join(lens.model or 'a lens without a name' for lens in lenses.lenses)}",
        "lens",
    )


def check_lenses(data: ProfileData, lenses: LensesData) -> None:
    """Raise ProfileError where the lenses were measured on another body or against another lens."""
    for what, one, other in (
        ("body", data.camera.model, lenses.camera.model),
        ("body", data.camera.serial, lenses.camera.serial),
        ("lens", data.lens.model, lenses.calibrated.model),
    ):
        if one and other and one != other:
            raise ProfileError(
                f"they were measured against another {what}: {other!r}, the profile's is {one!r}",
                "the lenses",
                "Give the lenses that belong to this profile, or measure them again",
            )


@dataclass(frozen=True, kw_only=True)
class LensUse:
    """What a lens gives at the aperture in use.

    light_ev: beyond the calibrated lens's, both by their marks. aperture: the mark it was measured
    at, None where the lens's light loss stands for another one.
    """

    model: str
    light_ev: Estimate
    aperture: float | None


@dataclass(frozen=True, kw_only=True)
class MountedLens:
    """A measured lens on the body of a profile, and the mark that it was measured against."""

    lens: LensLight
    calibrated_aperture: float

    def at(self, aperture: float | None) -> LensUse:
        """Return what it gives at a marked aperture, None for one that isn't chosen yet."""
        mark = _mark(self.lens, aperture)
        return LensUse(
            model=self.lens.model or "the lens",
            light_ev=opposite(self.lens.loss_ev) if mark is None else mark.light_ev,
            aperture=None if mark is None else mark.aperture,
        )


def mount(data: ProfileData, lenses: LensesData, name: str) -> MountedLens:
    """Return the lens of that name on the body of a profile; ProfileError where it isn't its."""
    check_lenses(data, lenses)
    return MountedLens(lens=find_lens(lenses, name), calibrated_aperture=lenses.calibrated_aperture)


def check_kind(mounted: MountedLens | None, aperture: Aperture | None) -> None:
    """Raise ExposureError for a T-stop through a lens whose marks were measured by f-number."""
    if mounted is not None and aperture is not None and aperture.word == "T":
        raise ExposureError(
            "a T-stop holds the lens's loss already",
            aperture.label,
            "Give the f-number on the ring, or leave {lens} out",
            "lens",
        )


def through_lens(result: Result, mounted: MountedLens | None, aperture: float | None) -> Result:
    """Return the result of a body through another of its lenses, at a marked aperture.

    aperture None: not chosen yet, so the lens's light loss counts. ProfileError where the profile
    doesn't hold the aperture, or wasn't made at the mark that the lens was measured against.
    """
    if mounted is None:
        return result
    lens = mounted.lens
    if result.measured_by_t_stop:
        raise ProfileError(
            "it was measured by T-stops, which hold each lens's loss already",
            f"the profile, ISO {result.iso}",
            "Set the T-stop, and leave {lens} out",
            "lens",
        )
    own = measured_apertures(result)
    if not any(same_mark(each, mounted.calibrated_aperture) for each in own):
        raise ProfileError(
            f"its lenses were measured against f/{mounted.calibrated_aperture:g}, which isn't the "
            f"aperture of ISO {result.iso} by {result.mode}",
            "the lenses",
            "Measure the lenses again, against an aperture of the profile",
            "lens",
        )
    if aperture is not None:
        check_aperture(result, aperture, mounted.lens.model or "the lens")
    use = mounted.at(aperture)
    light = use.light_ev
    loss = -light.value
    row = budget.stated(Source.LENS, light.u, f"{use.model}, {light.value:+.2f} EV")
    rows = (*result.budget, row) if light.u > 0.0 else result.budget
    stands = lens.at_aperture if use.aperture is None else use.aperture
    headroom = _moved(result.clip_headroom_ev, loss, rows)
    offset = _moved(result.offset_ev, loss, rows)
    ends = (result.iso / 2.0**ev for ev in (offset.value, offset.high, offset.low))
    value, low, high = ends
    footroom = result.footroom_ev
    if footroom is not None:
        footroom = replace(
            footroom,
            snr1=_widened(footroom.snr1, -loss, light.u),
            snr10=_widened(footroom.snr10, -loss, light.u),
            snr40=_widened(footroom.snr40, -loss, light.u),
        )
    return replace(
        result,
        offset_ev=offset,
        exposure_index=Span(value=value, low=low, high=high, lower_bound=offset.lower_bound),
        clip_headroom_ev=headroom,
        linear_headroom_ev=_widened(result.linear_headroom_ev, loss, light.u),
        footroom_ev=footroom,
        channels={
            name: replace(
                channel,
                headroom_ev=channel.headroom_ev + loss,
                metered_dn=channel.metered_dn * 2.0**-loss,
            )
            for name, channel in result.channels.items()
        },
        budget=rows,
        at_measured_aperture=None,
        frames=result.frames
        if len(own) > 1
        else tuple(
            replace(frame, aperture=stands if frame.aperture else None) for frame in result.frames
        ),
    )


def profile_through(data: ProfileData, mounted: MountedLens) -> ProfileData:
    """Return a profile as a lens sees it, at the mark that its loss was found at: to take along.

    Results at another aperture than the lens was measured against are left out; ProfileError where
    none is left.
    """
    against = [
        result
        for result in data.results
        if any(same_mark(m, mounted.calibrated_aperture) for m in measured_apertures(result))
    ]
    at = mounted.lens.at_aperture
    seen = [through_lens(r, mounted, at if accepts(r, at) else None) for r in against]
    if not seen:
        raise ProfileError(
            f"none of its results holds f/{mounted.calibrated_aperture:g}, which the lenses were "
            "measured against",
            "the profile",
            "Measure the lenses again, against an aperture of the profile",
        )
    return replace(data, lens=LensIdentity(model=mounted.lens.model), results=tuple(seen))


def _mark(lens: LensLight, aperture: float | None) -> LensMark | None:
    if aperture is None:
        return None
    return next((mark for mark in lens.marks if same_mark(mark.aperture, aperture)), None)


def _moved(estimate: Estimate, by_ev: float, rows: margins.Rows) -> Estimate:
    """The estimate moved, its interval by the rows of its budget."""
    return margins.estimate(estimate.value + by_ev, rows, lower_bound=estimate.lower_bound)


def _widened(estimate: Estimate, by_ev: float, u_ev: float) -> Estimate:
    """The estimate moved, its interval widened by a normal error of u_ev."""
    u = (estimate.u**2 + u_ev**2) ** 0.5
    wider = u / estimate.u if estimate.u > 0.0 else 0.0
    value = estimate.value + by_ev
    return replace(
        estimate,
        value=value,
        u=u,
        low=value - wider * (estimate.value - estimate.low),
        high=value + wider * (estimate.high - estimate.value),
    )


def profile_aperture(data: ProfileData, aperture: str | None) -> float:
    """Return the mark that a profile was made at; ProfileError where it holds several, or none."""
    held = sorted({mark for result in data.results for mark in measured_apertures(result)})
    if aperture is not None:
        asked = parse_aperture(aperture).marked
        found = [mark for mark in held if same_mark(mark, asked)]
        if found:
            return found[0]
    elif len(held) == 1:
        return held[0]
    marks = ", ".join(f"f/{mark:g}" for mark in held) or "no aperture"
    raise ProfileError(
        f"it was made at {marks}" if aperture is None else f"it wasn't made at {aperture}",
        "the profile",
        f"Say which {{aperture}} the lenses are held against: {marks}",
        "aperture",
    )
