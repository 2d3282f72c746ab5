"""Faults of the sensor or of what the camera does to its codes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

from profiler.simulate.faults.fault import Faults, edit_shots, generator, lit_frames, with_effects
from profiler.simulate.marks import nearest_time_mark, true_aperture, true_time_s
from profiler.simulate.sensor import IsoLabel
from profiler.simulate.series import SeriesSpec, Shot

SENSOR_FAULTS: Final = Faults()


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


@SENSOR_FAULTS.sized("clip-channel", 0.18, "EV", high=2.0)
def _clip_channel(spec: SeriesSpec, size: float) -> SeriesSpec:
    """Green clips at a lower code than red or blue."""
    first = tuple(c for c in spec.body.channels if c[0] in "GY")
    return _edit_labels(spec, lambda label: _lower_clip(label, first, size))


@SENSOR_FAULTS.sized("clip-label", 0.30, "EV", high=2.0)
def _clip_label(spec: SeriesSpec, size: float) -> SeriesSpec:
    """Clip lies lower at the highest ISO label of the series."""
    all_channels = spec.body.channels
    return _edit_labels(spec, lambda label: _lower_clip(label, all_channels, size), spec.isos[-1])


@SENSOR_FAULTS.sized("burst-12bit", 0.5, "part of the frames", high=1.0)
def _burst_12bit(spec: SeriesSpec, size: float) -> SeriesSpec:
    """Some frames drop two bits, which lowers their clip by 5 %."""
    lit = lit_frames(spec)
    order = generator(spec, "burst").permutation(len(lit))
    chosen = sorted(lit[int(i)] for i in order[: round(size * len(lit))])
    return edit_shots(spec, chosen, lambda _, shot: {"drop_bits": 2})


@SENSOR_FAULTS.sized("clip-bell", 12.0, "DN rms", high=200.0)
def _clip_bell(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The camera takes a noisy dark frame off, so that clip is a bell instead of a spike."""
    return with_effects(spec, clip_noise_dn=size)


@SENSOR_FAULTS.sized("knee", 0.85, "part of the range", low=0.1, high=1.0)
def _knee(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The response bends before it clips, from here on."""
    return with_effects(spec, knee_start=size)


@SENSOR_FAULTS.sized("digital-push", 0.32, "EV", high=4.0)
def _digital_push(spec: SeriesSpec, size: float) -> SeriesSpec:
    """Codes are multiplied at the highest ISO label, which leaves gaps between them."""
    return with_effects(spec, push_ev=((spec.isos[-1], size),))


@SENSOR_FAULTS.sized("wide-open-gain", 0.38, "EV", high=2.0)
def _wide_open_gain(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The lowest ISO label is shot at f/1.4, where the camera multiplies its codes."""
    widest = true_aperture(_WIDE_OPEN_MARK, "exact")

    def wide(_: int, shot: Shot) -> dict[str, str]:
        more_light = (true_aperture(shot.aperture, "exact") / widest) ** 2
        time = nearest_time_mark(true_time_s(shot.time, "exact") / more_light)
        return {"aperture": _WIDE_OPEN_MARK, "time": time}

    changed = edit_shots(spec, lit_frames(spec, spec.isos[0]), wide)
    return with_effects(changed, wide_open_ev=size)


@SENSOR_FAULTS.sized("highlight-mode", 1.0, "EV", high=3.0)
def _highlight_mode(spec: SeriesSpec, size: float) -> SeriesSpec:
    """Every third frame is recorded with less gain than its ISO label says."""
    return edit_shots(spec, lit_frames(spec)[1::3], lambda _, shot: {"gain_ev": -size})


@SENSOR_FAULTS.sized("black-channels", 6.0, "DN", high=100.0)
def _black_channels(spec: SeriesSpec, size: float) -> SeriesSpec:
    """Black differs from channel to channel."""
    shift = {"R": size, "G1": 0.0, "G2": 0.5 * size, "G": 0.0, "B": -size, "Y": size}
    return _edit_labels(
        spec,
        lambda label: replace(label, black_dn={c: v + shift[c] for c, v in label.black_dn.items()}),
    )


@SENSOR_FAULTS.sized("black-fraction", 0.7, "DN", high=1.0)
def _black_fraction(spec: SeriesSpec, size: float) -> SeriesSpec:
    """Black isn't a whole number."""
    return _edit_labels(
        spec,
        lambda label: replace(label, black_dn={c: v + size for c, v in label.black_dn.items()}),
    )


@SENSOR_FAULTS.switch("black-cut")
def _black_cut(spec: SeriesSpec) -> SeriesSpec:
    """The camera has taken black off already, which cuts the dark noise at zero."""
    return with_effects(spec, black_cut=True)


@SENSOR_FAULTS.sized("mask-leak", 0.02, "part of the light", high=1.0)
def _mask_leak(spec: SeriesSpec, size: float) -> SeriesSpec:
    """Light leaks into the masked border at its edge."""
    return with_effects(spec, mask_leak=size)


@SENSOR_FAULTS.sized("hot-pixels", 0.001, "part of the pixels", high=0.5)
def _hot_pixels(spec: SeriesSpec, size: float) -> SeriesSpec:
    """A few pixels hold a tenth of the full well without light."""
    return with_effects(spec, hot_share=size, hot_e=_HOT_PART_OF_WELL * spec.body.full_well_e)


@SENSOR_FAULTS.sized("noise-reduction", 0.25, "weight of each neighbour", high=0.5)
def _noise_reduction(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The raw is smoothed over neighbours of one colour."""
    return with_effects(spec, smoothing=size)


@SENSOR_FAULTS.sized("coarse-dark", 0.15, "DN rms", high=1.0)
def _coarse_dark(spec: SeriesSpec, size: float) -> SeriesSpec:
    """Read noise is too small against one code to be seen."""
    return _edit_labels(spec, lambda label: replace(label, read_noise_e=size * label.gain_e_per_dn))


@SENSOR_FAULTS.sized("long-exposure-dark", 20.0, "DN at the longest time", high=5000.0)
def _long_exposure_dark(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The dark level rises with the exposure time."""
    longest_s, gain = max(
        (
            true_time_s(spec.shots[i].time, spec.time_rule),
            spec.body.label(spec.shots[i].iso).gain_e_per_dn,
        )
        for i in lit_frames(spec)
    )
    return with_effects(spec, dark_current_e_per_s=size * gain / longest_s)


@SENSOR_FAULTS.sized("shading-baked", 1.0, "EV in the corner", high=4.0)
def _shading_baked(spec: SeriesSpec, size: float) -> SeriesSpec:
    """The camera has multiplied the corners to hide the lens's vignetting."""
    scene = replace(spec.scene, vignetting_ev=size)
    return with_effects(replace(spec, scene=scene), shading_ev=size)


@SENSOR_FAULTS.sized("pattern-noise", 0.02, "rms part of the signal", high=0.2)
def _pattern_noise(spec: SeriesSpec, size: float) -> SeriesSpec:
    """Fixed pattern is far stronger than usual."""
    return replace(spec, body=replace(spec.body, prnu=size))
