"""Faults of the files, their tags or their names."""

from __future__ import annotations

from typing import Final

from profiler.simulate.faults.fault import (
    Fault,
    edit_shots,
    lit_frames,
    some_frames,
    switch,
    with_effects,
)
from profiler.simulate.marks import marked_value
from profiler.simulate.series import SeriesSpec, Shot

_MISSING_TIMES: Final = ("0/1", "65535/1", "")


def _iso_capped(spec: SeriesSpec) -> SeriesSpec:
    return edit_shots(
        spec,
        lit_frames(spec, spec.isos[-1]),
        lambda _, shot: {"tag_iso": 65535, "reference_iso": shot.iso},
    )


def _iso_as_base(spec: SeriesSpec) -> SeriesSpec:
    return edit_shots(
        spec, lit_frames(spec, spec.isos[-1]), lambda _, shot: {"tag_iso": spec.isos[0]}
    )


def _odd_time(_: int, shot: Shot) -> dict[str, str]:
    time_s = marked_value(shot.time)
    if time_s < 1.0:
        return {"tag_time": f"10/{round(9.9 / time_s)}"}
    return {"tag_time": f"{round(1010.0 * time_s)}/1000"}


def _time_missing(spec: SeriesSpec, size: float) -> SeriesSpec:
    chosen = some_frames(spec, size, "time-missing")
    return edit_shots(
        spec,
        chosen,
        lambda index, shot: {"tag_time": _MISSING_TIMES[chosen.index(index) % 3]},
    )


def _manual_lens(spec: SeriesSpec) -> SeriesSpec:
    return edit_shots(
        spec,
        range(len(spec.shots)),
        lambda _, shot: {"tag_aperture": "0/1", "lens": "", "sheet_aperture": shot.aperture},
    )


def _damage(kind: str, spec: SeriesSpec, size: float) -> SeriesSpec:
    return edit_shots(spec, some_frames(spec, size, kind), lambda _, shot: {"damage": kind})


def _same_names(spec: SeriesSpec) -> SeriesSpec:
    half = (len(spec.shots) + 1) // 2
    return edit_shots(
        spec,
        range(len(spec.shots)),
        lambda index, shot: {"file": f"card{1 + index // half}/IMG_{1 + index % half:04d}.dng"},
    )


def _other_body(spec: SeriesSpec, size: float) -> SeriesSpec:
    chosen = some_frames(spec, size, "mixed-bodies")
    other = spec.body.serial[:-1] + str((ord(spec.body.serial[-1]) + 1) % 10)
    return edit_shots(spec, chosen, lambda _, shot: {"serial": other})


def _other_lens(spec: SeriesSpec, size: float) -> SeriesSpec:
    chosen = some_frames(spec, size, "mixed-lenses")
    other = f"{spec.body.make} 85mm f/1.8"
    return edit_shots(spec, chosen, lambda _, shot: {"lens": other})


FILE_FAULTS: Final = (
    switch(
        "iso-65535",
        "the ISO tag of the highest label says 65535, the recommended exposure index the truth",
        _iso_capped,
    ),
    switch("iso-as-base", "the ISO tag of the highest label says the lowest one", _iso_as_base),
    Fault(
        name="black-tag-off",
        size=5.0,
        unit="DN",
        what="the black tag is too high",
        change=lambda spec, size: with_effects(spec, black_tag_offset_dn=size),
        low=-100.0,
        high=2000.0,
    ),
    switch(
        "black-tag-zero",
        "the black tag says 0",
        lambda spec: with_effects(spec, black_tag_scale=0.0),
    ),
    switch(
        "black-tag-doubled",
        "the black tag says twice the truth",
        lambda spec: with_effects(spec, black_tag_scale=2.0),
    ),
    Fault(
        name="white-tag-low",
        size=0.1,
        unit="part of the range",
        what="the white tag is too low",
        change=lambda spec, size: with_effects(spec, white_tag_scale=1.0 - size),
        high=0.9,
    ),
    switch(
        "odd-times",
        "the time tag is an odd fraction such as 10/594 for 1/60",
        lambda spec: edit_shots(spec, range(len(spec.shots)), _odd_time),
    ),
    Fault(
        name="time-missing",
        size=3.0,
        unit="frames",
        what="the time tag says 0, 65535 or nothing",
        change=_time_missing,
        low=1.0,
    ),
    switch(
        "manual-lens",
        "the file says f/0 and no lens; the aperture is typed into the sheet",
        _manual_lens,
    ),
    Fault(
        name="curve-coded",
        size=8.0,
        unit="bits",
        what="the raw keeps only this many bits of a square-root curve",
        change=lambda spec, size: with_effects(spec, curve_bits=int(size)),
        low=4.0,
        high=12.0,
    ),
    switch(
        "linear-dng",
        "the file holds three demosaiced samples for each pixel",
        lambda spec: with_effects(spec, linear_dng=True),
    ),
    Fault(
        name="truncated-file",
        size=1.0,
        unit="frames",
        what="the copy broke off after 60 % of the file",
        change=lambda spec, size: _damage("truncated", spec, size),
        low=1.0,
    ),
    Fault(
        name="zero-file",
        size=1.0,
        unit="frames",
        what="the file opens, but all its pixels are 0",
        change=lambda spec, size: _damage("zeros", spec, size),
        low=1.0,
    ),
    Fault(
        name="half-file",
        size=1.0,
        unit="frames",
        what="the second half of the file is zeros",
        change=lambda spec, size: _damage("half", spec, size),
        low=1.0,
    ),
    switch("same-names", "two folders hold files of the same names", _same_names),
    Fault(
        name="mixed-bodies",
        size=2.0,
        unit="frames",
        what="some frames come from another body of the same model",
        change=_other_body,
        low=1.0,
    ),
    Fault(
        name="mixed-lenses",
        size=2.0,
        unit="frames",
        what="some frames name another lens",
        change=_other_lens,
        low=1.0,
    ),
)
