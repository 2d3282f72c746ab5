"""Faults of the sensor or of what the camera does to its codes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

from profiler.simulate.faults.fault import (
    Fault,
    edit_shots,
    generator,
    lit_frames,
    switch,
    with_effects,
)
from profiler.simulate.marks import nearest_time_mark, true_aperture, true_time_s
from profiler.simulate.sensor import IsoLabel
from profiler.simulate.series import SeriesSpec, Shot

_HOT_PART_OF_WELL: Final = 0.1
_WIDE_OPEN_MARK: Final = "1.4"


def _edit_labels(
    spec: SeriesSpec, change: Callable[[IsoLabel], IsoLabel], iso: int | None = None
) -> SeriesSpec:
    labels = tuple(
        change(label) if iso in (None, label.iso) else label for label in spec.body.labels
    )
    return replace(spec, body=replace(spec.body, labels=labels))


def _lower_clip(label: IsoLabel, channels: tuple[str, ...], stops: float) -> IsoLabel:
    lowered = {
        c: float(round(label.black_dn[c] + (clip - label.black_dn[c]) * 2.0**-stops))
        if c in channels
        else clip
        for c, clip in label.clip_dn.items()
    }
    return replace(label, clip_dn=lowered)


def _clip_channel(spec: SeriesSpec, size: float) -> SeriesSpec:
    first = tuple(c for c in spec.body.channels if c[0] in "GY")
    return _edit_labels(spec, lambda label: _lower_clip(label, first, size))


def _clip_label(spec: SeriesSpec, size: float) -> SeriesSpec:
    all_channels = spec.body.channels
    return _edit_labels(spec, lambda label: _lower_clip(label, all_channels, size), spec.isos[-1])


def _burst(spec: SeriesSpec, size: float) -> SeriesSpec:
    lit = lit_frames(spec)
    order = generator(spec, "burst").permutation(len(lit))
    chosen = sorted(lit[int(i)] for i in order[: round(size * len(lit))])
    return edit_shots(spec, chosen, lambda _, shot: {"drop_bits": 2})


def _wide_open(spec: SeriesSpec, size: float) -> SeriesSpec:
    widest = true_aperture(_WIDE_OPEN_MARK, "exact")

    def wide(_: int, shot: Shot) -> dict[str, str]:
        more_light = (true_aperture(shot.aperture, "exact") / widest) ** 2
        time = nearest_time_mark(true_time_s(shot.time, "exact") / more_light)
        return {"aperture": _WIDE_OPEN_MARK, "time": time}

    changed = edit_shots(spec, lit_frames(spec, spec.isos[0]), wide)
    return with_effects(changed, wide_open_ev=size)


def _highlight_mode(spec: SeriesSpec, size: float) -> SeriesSpec:
    return edit_shots(spec, lit_frames(spec)[1::3], lambda _, shot: {"gain_ev": -size})


def _black_channels(spec: SeriesSpec, size: float) -> SeriesSpec:
    shift = {"R": size, "G1": 0.0, "G2": 0.5 * size, "G": 0.0, "B": -size, "Y": size}
    return _edit_labels(
        spec,
        lambda label: replace(label, black_dn={c: v + shift[c] for c, v in label.black_dn.items()}),
    )


def _black_fraction(spec: SeriesSpec, size: float) -> SeriesSpec:
    return _edit_labels(
        spec,
        lambda label: replace(label, black_dn={c: v + size for c, v in label.black_dn.items()}),
    )


def _coarse_dark(spec: SeriesSpec, size: float) -> SeriesSpec:
    return _edit_labels(spec, lambda label: replace(label, read_noise_e=size * label.gain_e_per_dn))


def _hot_pixels(spec: SeriesSpec, size: float) -> SeriesSpec:
    return with_effects(spec, hot_share=size, hot_e=_HOT_PART_OF_WELL * spec.body.full_well_e)


def _long_dark(spec: SeriesSpec, size: float) -> SeriesSpec:
    longest_s, gain = max(
        (
            true_time_s(spec.shots[i].time, spec.time_rule),
            spec.body.label(spec.shots[i].iso).gain_e_per_dn,
        )
        for i in lit_frames(spec)
    )
    return with_effects(spec, dark_current_e_per_s=size * gain / longest_s)


def _shading(spec: SeriesSpec, size: float) -> SeriesSpec:
    scene = replace(spec.scene, vignetting_ev=size)
    return with_effects(replace(spec, scene=scene), shading_ev=size)


SENSOR_FAULTS: Final = (
    Fault(
        name="clip-channel",
        size=0.18,
        unit="EV",
        what="green clips at a lower code than red or blue",
        change=_clip_channel,
        high=2.0,
    ),
    Fault(
        name="clip-label",
        size=0.30,
        unit="EV",
        what="clip lies lower at the highest ISO label of the series",
        change=_clip_label,
        high=2.0,
    ),
    Fault(
        name="burst-12bit",
        size=0.5,
        unit="part of the frames",
        what="some frames drop two bits, which lowers their clip by 5 %",
        change=_burst,
        high=1.0,
    ),
    Fault(
        name="clip-bell",
        size=12.0,
        unit="DN rms",
        what="the camera takes a noisy dark frame off, so that clip is a bell instead of a spike",
        change=lambda spec, size: with_effects(spec, clip_noise_dn=size),
        high=200.0,
    ),
    Fault(
        name="knee",
        size=0.85,
        unit="part of the range",
        what="the response bends before it clips, from here on",
        change=lambda spec, size: with_effects(spec, knee_start=size),
        low=0.1,
        high=1.0,
    ),
    Fault(
        name="digital-push",
        size=0.32,
        unit="EV",
        what="codes are multiplied at the highest ISO label, which leaves gaps between them",
        change=lambda spec, size: with_effects(spec, push_ev=((spec.isos[-1], size),)),
        high=4.0,
    ),
    Fault(
        name="wide-open-gain",
        size=0.38,
        unit="EV",
        what="the lowest ISO label is shot at f/1.4, where the camera multiplies its codes",
        change=_wide_open,
        high=2.0,
    ),
    Fault(
        name="highlight-mode",
        size=1.0,
        unit="EV",
        what="every third frame is recorded with less gain than its ISO label says",
        change=_highlight_mode,
        high=3.0,
    ),
    Fault(
        name="black-channels",
        size=6.0,
        unit="DN",
        what="black differs from channel to channel",
        change=_black_channels,
        high=100.0,
    ),
    Fault(
        name="black-fraction",
        size=0.7,
        unit="DN",
        what="black isn't a whole number",
        change=_black_fraction,
        high=1.0,
    ),
    switch(
        "black-cut",
        "the camera has taken black off already, which cuts the dark noise at zero",
        lambda spec: with_effects(spec, black_cut=True),
    ),
    Fault(
        name="mask-leak",
        size=0.02,
        unit="part of the light",
        what="light leaks into the masked border at its edge",
        change=lambda spec, size: with_effects(spec, mask_leak=size),
        high=1.0,
    ),
    Fault(
        name="hot-pixels",
        size=0.001,
        unit="part of the pixels",
        what="a few pixels hold a tenth of the full well without light",
        change=_hot_pixels,
        high=0.5,
    ),
    Fault(
        name="noise-reduction",
        size=0.25,
        unit="weight of each neighbour",
        what="the raw is smoothed over neighbours of one colour",
        change=lambda spec, size: with_effects(spec, smoothing=size),
        high=0.5,
    ),
    Fault(
        name="coarse-dark",
        size=0.15,
        unit="DN rms",
        what="read noise is too small against one code to be seen",
        change=_coarse_dark,
        high=1.0,
    ),
    Fault(
        name="long-exposure-dark",
        size=20.0,
        unit="DN at the longest time",
        what="the dark level rises with the exposure time",
        change=_long_dark,
        high=5000.0,
    ),
    Fault(
        name="shading-baked",
        size=1.0,
        unit="EV in the corner",
        what="the camera has multiplied the corners to hide the lens's vignetting",
        change=_shading,
        high=4.0,
    ),
    Fault(
        name="pattern-noise",
        size=0.02,
        unit="rms part of the signal",
        what="fixed pattern is far stronger than usual",
        change=lambda spec, size: replace(spec, body=replace(spec.body, prnu=size)),
        high=0.2,
    ),
)
