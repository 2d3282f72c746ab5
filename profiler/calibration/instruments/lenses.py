"""Lenses measured by a body under one light: what each loses, and how its iris keeps its marks.

    light of a frame = light on the card - loss of the lens + error of its iris at that mark

All of it is told against the lens and aperture that the profile was made with, whose own loss and
iris are inside the profile's offset.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler import standards
from profiler.calibration.alike import check_one_camera
from profiler.calibration.assemble import identity
from profiler.calibration.exposures import join_all, require
from profiler.calibration.fit import budget
from profiler.calibration.fit.steadiness import likely_change_ev
from profiler.calibration.instruments.light_levels import (
    Levels,
    Shared,
    frame_scatter,
    solve_levels,
)
from profiler.calibration.instruments.ruler import Ruler, read_light
from profiler.errors import MeasureError
from profiler.exposure.stops import SAME_MARK, exact_f_number
from profiler.files.sheet import Sheet
from profiler.records import Estimate, Measurement
from profiler.results import CameraIdentity, LensesData, LensIdentity, LensLight, LensMark

_DRIFT_EV = likely_change_ev(0.0, math.inf)
"""Standard deviation of a light's change over a series before looking: most are steady."""


@dataclass(frozen=True, kw_only=True)
class _Cell:
    """Frames of one lens at one mark: place among the cells, and which frames they are."""

    lens: str
    aperture: float
    at: int
    frames: tuple[int, ...]


def measure_lenses(
    measurement: Measurement,
    sheet: Sheet,
    *,
    calibrated: str,
    aperture: float,
    camera: CameraIdentity | None = None,
    electronic_shutter: bool = False,
    times: str = "exact",
) -> LensesData:
    """Return every lens of a series against the calibrated one at its aperture.

    The frames show one card under one light through two or more lenses, or one lens at several
    marks; two or more each. calibrated: name of the profile's lens; aperture: the mark its profile
    was made at. camera: the profile's body, refused where the files name another. MeasureError
    where the calibrated lens isn't among them or nothing repeats.
    """
    exposures = join_all(sheet, measurement.frames)
    require(exposures, sheet.name or "the sheet", as_lit=True)
    check_one_camera(measurement.frames, exposures, lenses=True)
    body = identity.camera(measurement.frames)
    _check_body(body, camera)
    ruler = read_light(
        measurement.frames, exposures, [0.0] * len(exposures), times=times, straight=False
    )
    cells = _cells(ruler)
    reference = _find(cells, calibrated, aperture)
    place = np.linspace(0.0, 1.0, ruler.light_ev.size)
    levels, drift = _solve(ruler, cells, place, electronic_shutter)
    slopes = _slopes(ruler, cells)
    lenses = []
    for name in dict.fromkeys(cell.lens for cell in cells):
        own = sorted((c for c in cells if c.lens == name), key=lambda c: c.aperture)
        base = min(own, key=lambda c: abs(math.log2(c.aperture / reference.aperture)))
        lenses.append(
            LensLight(
                model=name,
                loss_ev=_apart(levels, reference, base),
                at_aperture=base.aperture,
                marks=tuple(
                    LensMark(
                        aperture=cell.aperture,
                        light_ev=_apart(levels, cell, reference),
                        iris_ev=_apart(levels, cell, base),
                        across_ev=_slope(slopes[0], cell, reference),
                        down_ev=_slope(slopes[1], cell, reference),
                        frames=len(cell.frames),
                    )
                    for cell in own
                ),
            )
        )
    return LensesData(
        camera=body,
        calibrated=LensIdentity(model=reference.lens),
        calibrated_aperture=reference.aperture,
        lenses=tuple(lenses),
        frame_scatter_ev=levels.scatter_ev,
        drift_ev=drift,
        provenance=identity.provenance(measurement, exposures, sheet),
    )


def _check_body(body: CameraIdentity, camera: CameraIdentity | None) -> None:
    """Raise MeasureError where the frames come from another body than the profile."""
    if camera is None:
        return
    for field in ("make", "model", "serial"):
        one, other = getattr(body, field), getattr(camera, field)
        if one and other and one != other:
            raise MeasureError(
                f"the frames come from another body than the profile: {field} {one!r} against "
                f"{other!r}",
                "the series",
                "Measure the lenses on the body that was calibrated",
            )


def _cells(ruler: Ruler) -> list[_Cell]:
    """The frames whose light can be told, by lens and mark."""
    found: dict[tuple[str, float], list[int]] = {}
    for i, exposure in enumerate(ruler.exposures):
        if not ruler.seen[i]:
            continue
        if exposure.f_number is None:
            raise MeasureError(
                "its aperture is given as a T-stop, which holds the lens's loss already",
                exposure.file,
                "Give the f-number on the ring",
            )
        found.setdefault((exposure.lens, exposure.f_number), []).append(i)
    cells = [
        _Cell(lens=lens, aperture=aperture, at=k, frames=tuple(frames))
        for k, ((lens, aperture), frames) in enumerate(found.items())
    ]
    if len(cells) < 2:
        raise MeasureError(
            "the frames show one lens at one mark of its iris",
            "the series",
            "Shoot the same card through each lens, two frames or more at each mark",
        )
    return cells


def _find(cells: Sequence[_Cell], lens: str, aperture: float) -> _Cell:
    """The cell of the calibrated lens at the aperture of its profile."""
    for cell in cells:
        same = abs(math.log(exact_f_number(cell.aperture) / exact_f_number(aperture))) < SAME_MARK
        if same and cell.lens.casefold() == " ".join(lens.split()).casefold():
            return cell
    held = ", ".join(f"{c.lens or 'a lens without a name'} at f/{c.aperture:g}" for c in cells)
    raise MeasureError(
        f"no frame shows the calibrated lens, {lens or 'which has no name'}, at f/{aperture:g}; "
        f"they show {held}",
        "the series",
        "Shoot it first and last, at the aperture of its calibration; a lens that the files don't "
        "name goes into the column 'lens' of the sheet",
    )


def _solve(
    ruler: Ruler, cells: Sequence[_Cell], place: NDArray[np.float64], electronic: bool
) -> tuple[Levels, Estimate]:
    """Light of each cell, and the change of the light over the series, taken out as far as told.

    Frames of one cell that stand together repeat each other; those apart tell the change.
    """
    cell_of = {i: cell.at for cell in cells for i in cell.frames}
    index = np.array(sorted(cell_of))
    group = np.array([cell_of[int(i)] for i in index])
    light, noise = ruler.light_ev[index], ruler.noise_u_ev[index]
    times = np.array([round(1e3 * math.log2(e.time_s or 1.0)) for e in ruler.exposures])[index]
    run = np.cumsum(np.concatenate([[True], group[1:] != group[:-1]]))
    _, repeats = np.unique(np.stack([run, times]), axis=1, return_inverse=True)
    scatter, dof = frame_scatter(
        light,
        noise,
        repeats.ravel(),
        electronic=electronic,
        lacking="too few frames repeat each other to tell the shutter's scatter",
        mend="Shoot two frames or more of each lens at each mark, one after the other",
    )
    whole = np.zeros(index.size, dtype=np.int64)
    levels = solve_levels(
        light,
        noise,
        group,
        [
            Shared(index=whole, u_ev=_DRIFT_EV, amount=place[index] - place[index].mean()),
            Shared(index=times, u_ev=0.0 if electronic else standards.SHUTTER_SCATTER_EV),
            Shared(index=whole, u_ev=1.0, amount=ruler.black_ev[index]),
            Shared(index=whole, u_ev=1.0, amount=ruler.curve_ev[index]),
        ],
        scatter_ev=scatter,
        dof=dof,
    )
    drift, u = levels.shared_ev[0]
    return levels, budget.expand(drift, u, math.inf)


def _apart(levels: Levels, one: _Cell, other: _Cell) -> Estimate:
    """How much more light one cell got than another."""
    weights = np.zeros(levels.light_ev.size)
    if one.at != other.at:
        weights[one.at], weights[other.at] = 1.0, -1.0
    return budget.expand(*levels.difference(weights), math.inf)


def _slopes(
    ruler: Ruler, cells: Sequence[_Cell]
) -> tuple[dict[int, tuple[float, float]], dict[int, tuple[float, float]]]:
    """Change of the light over the patch, across and down, of each cell: EV and its uncertainty."""
    out: tuple[dict[int, tuple[float, float]], dict[int, tuple[float, float]]] = ({}, {})
    for cell in cells:
        for found, field in zip(out, ("slope_across_dn", "slope_down_dn"), strict=True):
            values, weights = [], []
            for i in cell.frames:
                for k, measure in enumerate(ruler.frames[i].channels.values()):
                    slope = getattr(measure, field)
                    signal = measure.mean_dn - float(ruler.black_dn[k])
                    if slope is None or signal <= 0.0 or measure.n < 2:
                        continue
                    noise = max(min(measure.neighbour_variance_dn2, measure.variance_dn2), 0.0)
                    u = math.sqrt(12.0 * noise / measure.n) / signal + 1e-5
                    values.append(slope / signal / math.log(2.0))
                    weights.append(1.0 / (u / math.log(2.0)) ** 2)
            if weights:
                mean = float(np.average(values, weights=weights))
                found[cell.at] = mean, 1.0 / math.sqrt(math.fsum(weights))
    return out


def _slope(
    slopes: dict[int, tuple[float, float]], cell: _Cell, reference: _Cell
) -> Estimate | None:
    """The slope of a cell beyond the calibrated one's, None where no slope is known."""
    if cell.at not in slopes or reference.at not in slopes:
        return None
    (one, u_one), (other, u_other) = slopes[cell.at], slopes[reference.at]
    u = 0.0 if cell.at == reference.at else math.hypot(u_one, u_other)
    return budget.expand(one - other, u, math.inf)
