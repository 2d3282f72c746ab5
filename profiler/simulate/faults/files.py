"""Faults of the files, their tags or their names."""

from __future__ import annotations

from typing import Final

from profiler.simulate.faults.fault import Faults, edit_shots, lit_frames, some_frames, with_effects
from profiler.simulate.marks import marked_value
from profiler.simulate.series import SeriesSpec, Shot

FILE_FAULTS: Final = Faults()


_MISSING_TIMES: Final = ("0/1", "65535/1", "")


def _odd_time(_: int, shot: Shot) -> dict[str, str]:
    time_s = marked_value(shot.time)
    if time_s < 1.0:
        return {"tag_time": f"10/{round(9.9 / time_s)}"}
    return {"tag_time": f"{round(1010.0 * time_s)}/1000"}


def _damage(kind: str, spec: SeriesSpec, size: float) -> SeriesSpec:
    return edit_shots(spec, some_frames(spec, size, kind), lambda _, shot: {"damage": kind})


@FILE_FAULTS.switch("iso-65535")
def _iso_65535(spec: SeriesSpec) -> SeriesSpec:
    """The ISO tag of the highest label says 65535, the recommended exposure index the truth."""
    return edit_shots(
        spec,
        lit_frames(spec, spec.isos[-1]),
        lambda _, shot: {"tag_iso": 65535, "reference_iso": shot.iso},
    )


@FILE_FAULTS.switch("iso-as-base")
def _iso_as_base(spec: SeriesSpec) -> SeriesSpec:
    """The ISO tag of the highest label says the lowest one."""
    return edit_shots(
        spec, lit_frames(spec, spec.isos[-1]), lambda _, shot: {"tag_iso": spec.isos[0]}
    )


@FILE_FAULTS.sized("black-tag-off", 5.0, "DN", low=-100.0, high=2000.0)
def _black_tag_off(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The black tag is too high."""
    return with_effects(spec, black_tag_offset_dn=size)


@FILE_FAULTS.switch("black-tag-zero")
def _black_tag_zero(spec: SeriesSpec) -> SeriesSpec:
    """The black tag says 0."""
    return with_effects(spec, black_tag_scale=0.0)


@FILE_FAULTS.switch("black-tag-doubled")
def _black_tag_doubled(spec: SeriesSpec) -> SeriesSpec:
    """The black tag says twice the truth."""
    return with_effects(spec, black_tag_scale=2.0)


@FILE_FAULTS.sized("white-tag-low", 0.1, "part of the range", high=0.9)
def _white_tag_low(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The white tag is too low."""
    return with_effects(spec, white_tag_scale=1.0 - size)


@FILE_FAULTS.switch("odd-times")
def _odd_times(spec: SeriesSpec) -> SeriesSpec:
    """The time tag is an odd fraction such as 10/594 for 1/60."""
    return edit_shots(spec, range(len(spec.shots)), _odd_time)


@FILE_FAULTS.sized("time-missing", 3.0, "frames", low=1.0)
def _time_missing(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The time tag says 0, 65535 or nothing."""
    chosen = some_frames(spec, size, "time-missing")
    return edit_shots(
        spec,
        chosen,
        lambda index, shot: {"tag_time": _MISSING_TIMES[chosen.index(index) % 3]},
    )


@FILE_FAULTS.switch("manual-lens")
def _manual_lens(spec: SeriesSpec) -> SeriesSpec:
    """The file says f/0 and no lens; the aperture is typed into the sheet."""
    return edit_shots(
        spec,
        range(len(spec.shots)),
        lambda _, shot: {"tag_aperture": "0/1", "lens": "", "sheet_aperture": shot.aperture},
    )


@FILE_FAULTS.sized("curve-coded", 8.0, "bits", low=4.0, high=12.0)
def _curve_coded(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The raw keeps only this many bits of a square-root curve."""
    return with_effects(spec, curve_bits=int(size))


@FILE_FAULTS.switch("linear-dng")
def _linear_dng(spec: SeriesSpec) -> SeriesSpec:
    """The file holds three demosaiced samples for each pixel."""
    return with_effects(spec, linear_dng=True)


@FILE_FAULTS.sized("truncated-file", 1.0, "frames", low=1.0)
def _truncated_file(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The copy broke off after 60 % of the file."""
    return _damage("truncated", spec, size)


@FILE_FAULTS.sized("zero-file", 1.0, "frames", low=1.0)
def _zero_file(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The file opens, but all its pixels are 0."""
    return _damage("zeros", spec, size)


@FILE_FAULTS.sized("half-file", 1.0, "frames", low=1.0)
def _half_file(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The second half of the file is zeros."""
    return _damage("half", spec, size)


@FILE_FAULTS.switch("same-names")
def _same_names(spec: SeriesSpec) -> SeriesSpec:
    """Two folders hold files of the same names."""
    half = (len(spec.shots) + 1) // 2
    return edit_shots(
        spec,
        range(len(spec.shots)),
        lambda index, shot: {"file": f"card{1 + index // half}/IMG_{1 + index % half:04d}.dng"},
    )


@FILE_FAULTS.sized("mixed-bodies", 2.0, "frames", low=1.0)
def _mixed_bodies(spec: SeriesSpec, size: float) -> SeriesSpec:
    """Some frames come from another body of the same model."""
    chosen = some_frames(spec, size, "mixed-bodies")
    other = spec.body.serial[:-1] + str((ord(spec.body.serial[-1]) + 1) % 10)
    return edit_shots(spec, chosen, lambda _, shot: {"serial": other})


@FILE_FAULTS.sized("mixed-lenses", 2.0, "frames", low=1.0)
def _mixed_lenses(spec: SeriesSpec, size: float) -> SeriesSpec:
    """Some frames name another lens."""
    chosen = some_frames(spec, size, "mixed-lenses")
    other = f"{spec.body.make} 85mm f/1.8"
    return edit_shots(spec, chosen, lambda _, shot: {"lens": other})
