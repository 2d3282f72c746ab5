"""Sheet and file tags joined into what each frame was given."""

from __future__ import annotations

import math
import zlib
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

from profiler import standards
from profiler.calibration.against import Against, against_file
from profiler.errors import SheetError
from profiler.exposure import stops
from profiler.exposure.display import display_step_ev as step_of_readings_ev
from profiler.exposure.filters import bellows_ev
from profiler.exposure.linearity import Straightened, straightened
from profiler.exposure.modes import is_flash
from profiler.frames.pairs import may_pair
from profiler.records import FrameMeasure, FrameTags, Meter

if TYPE_CHECKING:
    from pathlib import Path

    from profiler.exposure.readings import Reading
    from profiler.files.sheet import Sheet
    from profiler.frames.cache import Signature
    from profiler.frames.series_patch import Shot


@dataclass(frozen=True, kw_only=True)
class Exposure:
    """What one frame was given, by the sheet where it speaks, else by the file.

    time_s, f_number: as marked; None when unknown. t_stop replaces the f-number. readings: mode
    -> readings that hold for this frame, with the texts as typed. against: where the sheet says
    something else than the file.
    """

    file: str
    iso: int | None
    time_s: float | None
    f_number: float | None
    t_stop: float | None
    nd_stops: float
    magnification: float
    dark: bool
    use: bool
    cfa: str
    lens: str
    readings: Mapping[str, tuple[Reading, ...]]
    texts: Mapping[str, tuple[str, ...]]
    own_reading: bool
    against: tuple[Against, ...] = ()

    @property
    def alike(self) -> str:
        """Text that two frames share when they had equal settings; empty where that's unknown."""
        if self.iso is None or (self.time_s is None and not self.dark):
            return ""
        aperture = self.t_stop if self.t_stop is not None else self.f_number
        lens = "" if self.dark else self.lens
        through = f"{aperture} {self.nd_stops} {self.magnification} {lens}"
        return f"{self.iso} {self.time_s} {through} {self.dark}"

    @property
    def metered_ev(self) -> dict[str, float]:
        """Mode -> EV at ISO 100 of the readings, to tell one light from another.

        A reading that doesn't suit its mode is left out here; fitting refuses it.
        """
        found = {}
        for mode in self.readings:
            with suppress(SheetError):
                found[mode] = metered_ev100(self, mode, Meter())
        return found

    @property
    def light(self) -> float:
        """Relative exposure, to order frames by; 0 for a dark one."""
        if self.dark:
            return 0.0
        aperture = self.t_stop or self.f_number or 8.0
        light = (self.time_s or 1.0) * (self.iso or 100) / aperture**2
        return light * math.exp2(-self.nd_stops)


def join(sheet: Sheet, file: str, tags: FrameTags) -> Exposure:
    """Return the exposure of one frame; rows of its own beat rows for every file, both beat tags.

    Several rows for every file in one mode are readings before and after: all hold. A frame's own
    reading in a mode replaces those.
    """
    iso = _value(tags.iso, standards.ISO_RANGE)
    time_s = _value(tags.time_s, standards.TIME_RANGE_S)
    f_number = _value(tags.aperture, standards.F_NUMBER_RANGE)
    said = {"iso": iso, "time": time_s, "aperture": f_number}
    t_stop: float | None = None
    nd_stops, magnification = 0.0, 0.0
    dark, use, cfa = False, True, ""
    lens = "" if tags.lens is None else " ".join(str(tags.lens.value).split())
    general: dict[str, list[tuple[Reading, str]]] = {}
    own: dict[str, list[tuple[Reading, str]]] = {}
    for row in sheet.of(file):
        iso = row.iso if row.iso is not None else iso
        time_s = row.time_s if row.time_s is not None else time_s
        f_number = row.aperture if row.aperture is not None else f_number
        t_stop = row.t_stop if row.t_stop is not None else t_stop
        nd_stops = row.nd_stops if row.nd_stops is not None else nd_stops
        magnification = row.magnification if row.magnification is not None else magnification
        use = row.use if row.use is not None else use
        cfa = row.cfa or cfa
        lens = row.lens or lens
        if row.dark:
            dark = True
        elif row.reading is not None:
            target = own if row.file == file else general
            target.setdefault(row.mode, []).append((row.reading, row.reading_text))
    held = general | own
    return Exposure(
        file=file,
        iso=None if iso is None else int(iso),
        time_s=time_s,
        f_number=f_number,
        t_stop=t_stop,
        nd_stops=nd_stops,
        magnification=magnification,
        dark=dark,
        use=use,
        cfa=cfa,
        lens=lens,
        readings={} if dark else {m: tuple(r for r, _ in rows) for m, rows in held.items()},
        texts={} if dark else {m: tuple(t for _, t in rows) for m, rows in held.items()},
        own_reading=bool(own) and not dark,
        against=() if dark else against_file(sheet.of(file), file, said),
    )


def shot_of(path: Path, tags: FrameTags, exposure: Exposure, signature: Signature) -> Shot:
    """Return the file to measure, with what its exposure says of it."""
    from profiler.frames.series_patch import Shot

    return Shot(
        path=path,
        file=exposure.file,
        tags=tags,
        alike=exposure.alike,
        light=exposure.light,
        metered_ev=exposure.metered_ev,
        use=exposure.use,
        signature=signature,
        cfa=exposure.cfa,
    )


def join_all(sheet: Sheet, frames: Sequence[FrameMeasure]) -> list[Exposure]:
    """Return the exposures of all frames in their order."""
    return [join(sheet, frame.file, frame.tags) for frame in frames]


def partners_of(exposures: Sequence[Exposure]) -> dict[str, tuple[str, ...]]:
    """Return file -> the files that it can make a pair with."""
    groups: dict[str, list[Exposure]] = {}
    for exposure in exposures:
        groups.setdefault(exposure.alike, []).append(exposure)
    return {
        a.file: tuple(b.file for b in groups[a.alike] if b is not a and may_pair(a, b))
        for a in exposures
    }


def modes_to_fit(exposures: Sequence[Exposure], sheet: Sheet) -> list[str]:
    """Return the meter modes that the sheet holds readings in; SheetError where it holds none."""
    from profiler.records import MODES

    held = {mode for exposure in exposures if exposure.use for mode in exposure.readings}
    if not held:
        raise SheetError(
            "no frame has a reading",
            sheet.name,
            "Write what the meter showed in the column 'reading', with its mode: "
            "a row for the file *, or one row per file",
        )
    return [mode for mode in MODES if mode in held]


def require(exposures: Sequence[Exposure], sheet_name: str, *, as_lit: bool = False) -> None:
    """Raise SheetError that names every field of the series which a placement needs and lacks."""
    gaps = missing_fields(exposures, as_lit=as_lit)
    if gaps:
        lacking = describe_missing(exposures, as_lit=as_lit)
        raise SheetError(
            f"neither the files nor the sheet give the {lacking}",
            sheet_name,
            f"Fill the column{'s' if len(gaps) > 1 else ''} {', '.join(gaps)} of {sheet_name}; "
            "a row for the file * fills one for every frame",
        )


def missing_fields(
    exposures: Sequence[Exposure], *, as_lit: bool = False
) -> dict[str, tuple[str, ...]]:
    """Return column -> files of the series that need it and lack it; columns without any left out.

    Lit frames with a reading need ISO label, aperture or T-stop, and time unless all their readings
    are of flash; dark frames need the label. as_lit: take frames without a reading as lit ones.
    """
    out: dict[str, tuple[str, ...]] = {}
    used = [e for e in exposures if e.use and (e.dark or e.readings or as_lit)]
    lit = [e for e in used if not e.dark]
    timed = [e for e in lit if not (e.readings and all(is_flash(mode) for mode in e.readings))]
    for column, files in (
        ("iso", [e.file for e in used if e.iso is None]),
        ("time", [e.file for e in timed if e.time_s is None]),
        ("aperture", [e.file for e in lit if e.f_number is None and e.t_stop is None]),
    ):
        if files:
            out[column] = tuple(files)
    return out


def describe_missing(exposures: Sequence[Exposure], *, as_lit: bool = False) -> str:
    """Return the missing fields with the frames that lack them: "iso of a.dng; time of ..."."""
    lit = {e.file for e in exposures if e.use and not e.dark and (e.readings or as_lit)}
    parts = []
    for column, files in missing_fields(exposures, as_lit=as_lit).items():
        every = len(files) > 1 and lit <= set(files)
        parts.append(f"{column} of {'every frame' if every else ', '.join(files)}")
    return "; ".join(parts)


def metered_ev100(exposure: Exposure, mode: str, meter: Meter) -> float:
    """Return EV at ISO 100 that the meter asked for: the mean, in stops, of its readings.

    In a flash mode 2 log2(f-number at ISO 100): the time doesn't count.
    """
    values = readings_ev(exposure, mode, meter)
    return math.fsum(values) / len(values)


def readings_ev(exposure: Exposure, mode: str, meter: Meter) -> list[float]:
    """Return EV at ISO 100 of each reading that holds for a frame, in the order of the sheet.

    Corrected by what the meter's file says of its linearity.
    """
    return [each.ev100 for each in straightened_readings(exposure, mode, meter)]


def straightened_readings(exposure: Exposure, mode: str, meter: Meter) -> list[Straightened]:
    """Return the readings that hold for a frame, each with what its correction leaves in doubt."""
    evs = (reading.metered_ev100(mode, meter) for reading in exposure.readings[mode])
    return [straightened(ev, mode, meter) for ev in evs]


def shutter_times(exposures: Sequence[Exposure], mode: str) -> list[int]:
    """Return an index per frame, equal where frames share the error of a shutter time.

    In a flash mode the time doesn't count, and every frame stands for itself.
    """
    if is_flash(mode):
        return [-1 - zlib.crc32(e.file.encode()) for e in exposures]
    return [round(1000.0 * math.log2(e.time_s)) if e.time_s else 0 for e in exposures]


def taken_readings(
    exposures: Sequence[Exposure], order: Sequence[float], mode: str, meter: Meter
) -> list[int]:
    """Return the index per frame of the reading that its placement rests on.

    One for all frames that share the rows for every file. Frames with readings of their own share
    one where neighbours in the order of shooting read the same: a value filled down a column is one
    reading, and a meter that shows the same value on the same light errs by the same.
    """
    out = [0] * len(exposures)
    last: tuple[float, ...] = ()
    count = 0
    for i in sorted(range(len(exposures)), key=lambda k: order[k]):
        if not exposures[i].own_reading:
            continue
        values = tuple(readings_ev(exposures[i], mode, meter))
        if values != last:
            count += 1
            last = values
        out[i] = count
    return out


def shown_values(exposures: Sequence[Exposure], mode: str, meter: Meter) -> list[int]:
    """Return the index per frame of the values that its readings showed, equal for equal values."""
    seen: dict[tuple[float, ...], int] = {}
    return [
        seen.setdefault(tuple(readings_ev(exposure, mode, meter)), len(seen))
        for exposure in exposures
    ]


def display_step_ev(exposures: Sequence[Exposure], mode: str, meter: Meter) -> float:
    """Return the step in EV of the meter's display, from all readings of frames in one mode."""
    readings = [reading for e in exposures for reading in e.readings.get(mode, ())]
    return step_of_readings_ev(readings, meter.resolution_ev)


def placements(exposures: Sequence[Exposure], mode: str, meter: Meter) -> dict[str, list[float]]:
    """Return time rule -> placement of each frame in EV above what the meter asked for.

    placement = EV(ISO) - log2(N^2/t) - ND - 2 log2(1 + magnification); marked f-numbers count as
    exact members of their series (the iris is cut by it), a T-stop as it is; marked times after
    either rule.
    """
    wanted = [
        metered_ev100(e, mode, meter) + math.log2(float(e.iso or 0) / 100.0) for e in exposures
    ]
    return {
        rule: [w - g for w, g in zip(wanted, given, strict=True)]
        for rule, given in given_ev(exposures, flash=is_flash(mode)).items()
    }


def given_ev(exposures: Sequence[Exposure], *, flash: bool = False) -> dict[str, list[float]]:
    """Return time rule -> EV that each frame's settings and losses give; flash without the time.

    log2(N^2/t) + ND + 2 log2(1 + magnification).
    """
    series = stops.series_of_times([e.time_s for e in exposures if e.time_s is not None])
    n_series = stops.series_of_f_numbers([e.f_number for e in exposures if e.f_number is not None])
    out: dict[str, list[float]] = {"exact": [], "as-marked": []}
    for exposure in exposures:
        if exposure.t_stop is not None:
            aperture = exposure.t_stop
        else:
            aperture = stops.exact_f_number(float(exposure.f_number or 0), n_series)
        marked = float(exposure.time_s or 1.0)
        for rule, values in out.items():
            seconds = stops.exact_time_s(marked, series) if rule == "exact" else marked
            given = 2.0 * math.log2(aperture) + exposure.nd_stops
            given += bellows_ev(exposure.magnification)
            given -= 0.0 if flash else math.log2(seconds)
            values.append(given)
    return out


def _value(tag: object, ends: tuple[float, float]) -> float | None:
    """Return a tag's number where it can be what it says; 0 and the like are missing."""
    value = getattr(tag, "value", None)
    return float(value) if value is not None and ends[0] <= float(value) <= ends[1] else None
