"""Raw pixels of a simulated frame, from the light on the sensor to the codes in the file."""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Mapping
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from profiler.simulate.exposure import FrameExposure, flicker_by_row, frame_exposure
from profiler.simulate.scene import relative_luminance
from profiler.simulate.sensor import Body
from profiler.simulate.series import SeriesSpec, Shot

_CHUNK_PIXELS = 1 << 20
"""Pixels worked on at a time: keeps memory small; changing it changes every rendered frame."""
_POISSON_BELOW_E = 100.0
"""Mean electrons below which shot noise is drawn as Poisson; above, a normal is within 0.1 %."""

Plane = NDArray[np.float32]


def render(spec: SeriesSpec) -> Iterator[tuple[Shot, NDArray[np.uint16]]]:
    """Yield each shot with its mosaic in DN, masked borders included."""
    for index, shot in enumerate(spec.shots):
        yield shot, render_frame(spec, index)


def render_frame(spec: SeriesSpec, index: int) -> NDArray[np.uint16]:
    """Return the mosaic of one frame in DN, masked borders included; the same in any order.

    Shape (masked_top + height, masked_left + width).
    """
    body = spec.body
    width, height = spec.frame_size
    rows, columns = body.masked_top + height, body.masked_left + width
    frame = frame_exposure(spec, index)
    rng = np.random.default_rng(np.random.SeedSequence(spec.seed, spawn_key=(index, 1)))
    whole = np.empty((rows, columns), dtype=np.uint16)
    step = max(6, _CHUNK_PIXELS // columns // 6 * 6)
    for start in range(0, rows, step):
        stop = min(rows, start + step)
        electrons = _mean_electrons(spec, index, frame, start, stop)
        whole[start:stop] = _codes(spec, index, frame, electrons, start, rng)
    return whole


def channel_plane(
    body: Body, values: Mapping[str, float], start: int, rows: int, columns: int
) -> Plane:
    """Return one value per pixel by its channel, for `rows` rows from `start` of the full frame.

    One number stays a (1, 1) array.
    """
    if len(set(values.values())) == 1:
        return np.full((1, 1), next(iter(values.values())), dtype=np.float32)
    period = np.array([[values[c] for c in row] for row in body.pattern], dtype=np.float32)
    n = len(period)
    across = period[:, (np.arange(columns) - body.masked_left) % n]
    plane: Plane = across[(np.arange(start, start + rows) - body.masked_top) % n]
    return plane


def _mean_electrons(
    spec: SeriesSpec, index: int, frame: FrameExposure, start: int, stop: int
) -> Plane:
    """Return the mean electrons of the full frame's rows, before any noise that changes."""
    body, effects = spec.body, spec.effects
    columns = body.masked_left + spec.frame_size[0]
    if spec.shots[index].dark:
        light = np.zeros((stop - start, columns), dtype=np.float32)
    else:
        light = _light(spec, frame, start, stop)
        per_unit = {
            c: body.electrons_per_lx_s
            * body.sensitivity[c]
            * frame.exposure_lx_s
            * 2.0 ** spec.scene.colour_ev(c)
            for c in body.channels
        }
        light *= channel_plane(body, per_unit, start, stop - start, columns)
        if body.prnu > 0.0:
            light *= _pattern(body.model, body.serial, body.prnu, start, light.shape)
    if effects.dark_current_e_per_s > 0.0:
        light += np.float32(effects.dark_current_e_per_s * frame.time_s)
    if effects.hot_share > 0.0:
        hot = np.random.default_rng([zlib.crc32(body.serial.encode()), 1, start])
        chosen = hot.random(light.shape, dtype=np.float32) < effects.hot_share
        light[chosen] += np.float32(effects.hot_e)
    return light


@lru_cache(maxsize=1)
def _pattern(model: str, serial: str, prnu: float, start: int, shape: tuple[int, int]) -> Plane:
    """Return the sensitivity of each pixel from row `start` as a part of the mean one's.

    The last one is kept, for all small frames of one body have the same.
    """
    fixed = np.random.default_rng([zlib.crc32(f"{model} {serial}".encode()), start])
    spread = fixed.standard_normal(shape, dtype=np.float32)
    spread *= np.float32(prnu)
    spread += np.float32(1.0)
    spread.setflags(write=False)
    return spread


def _light(spec: SeriesSpec, frame: FrameExposure, start: int, stop: int) -> Plane:
    """Return the light on the full frame's rows as a part of the card centre's; masked: leaks."""
    body = spec.body
    (width, height), top, left = spec.frame_size, body.masked_top, body.masked_left

    def active(first: int, rows: int) -> Plane:
        steady = relative_luminance(spec.scene, first, rows, height, width)
        return steady * flicker_by_row(spec, frame, first, rows)[:, None]

    light = np.zeros((stop - start, left + width), dtype=np.float32)
    first = max(start, top)
    if stop > first:
        light[first - start :, left:] = active(first - top, stop - first)
    leak = spec.effects.mask_leak
    if leak > 0.0:
        for distance in range(left):
            light[:, left - 1 - distance] = leak * 0.5**distance * light[:, left]
        edge = active(0, 1)[0]
        for row in range(start, min(stop, top)):
            light[row - start, left:] = leak * 0.5 ** (top - 1 - row) * edge
    return light


def _codes(
    spec: SeriesSpec,
    index: int,
    frame: FrameExposure,
    electrons: Plane,
    start: int,
    rng: np.random.Generator,
) -> NDArray[np.uint16]:
    """Return the codes that mean electrons end up as: noise, conversion, what the camera does."""
    body, effects, shot = spec.body, spec.effects, spec.shots[index]
    label = body.label(shot.iso)
    rows, columns = electrons.shape

    def plane(values: Mapping[str, float]) -> Plane:
        return channel_plane(body, values, start, rows, columns)

    black, clip = plane(label.black_dn), plane(label.clip_dn)
    held = rng.standard_normal(electrons.shape, dtype=np.float32)
    held *= np.sqrt(electrons)
    held += electrons
    few = electrons < _POISSON_BELOW_E
    if few.any():
        held[few] = rng.poisson(electrons[few])
    if effects.knee_start < 1.0:
        bend = (clip - black) * np.float32(effects.knee_start * label.gain_e_per_dn)
        held -= np.float32(1.0 - effects.knee_slope) * np.maximum(held - bend, 0.0)
    np.minimum(held, np.float32(body.full_well_e), out=held)
    if label.read_noise_e > 0.0:
        noise = rng.standard_normal(electrons.shape, dtype=np.float32)
        noise *= np.float32(label.read_noise_e)
        held += noise
    held *= np.float32(2.0**shot.gain_ev / label.gain_e_per_dn)
    held += black
    if effects.smoothing > 0.0:
        _smooth(held, effects.smoothing, len(body.pattern))
    np.rint(held, out=held)
    np.clip(held, 0.0, clip, out=held)
    _after_conversion(spec, shot, frame, held, black, clip, start, rng)
    return held.astype(np.uint16)


def _smooth(codes: Plane, weight: float, step: int) -> None:
    """Mix each pixel with its two neighbours `step` columns away, in place."""
    mixed = (1.0 - 2.0 * weight) * codes[:, step:-step]
    mixed += weight * codes[:, : -2 * step]
    mixed += weight * codes[:, 2 * step :]
    codes[:, step:-step] = mixed


def _after_conversion(
    spec: SeriesSpec,
    shot: Shot,
    frame: FrameExposure,
    codes: Plane,
    black: Plane,
    clip: Plane,
    start: int,
    rng: np.random.Generator,
) -> None:
    """Do to whole codes what the camera does before it writes them, in place."""
    body, effects = spec.body, spec.effects
    top = np.float32(body.top_code_dn)
    gain = effects.code_gain(shot.iso, frame.aperture)
    if gain != 1.0 or effects.shading_ev > 0.0:
        codes -= black
        codes *= np.float32(gain)
        if effects.shading_ev > 0.0:
            codes *= _shading(spec, start, codes.shape)
        codes += black
        np.rint(codes, out=codes)
    if effects.clip_noise_dn > 0.0:
        taken_off = rng.standard_normal(codes.shape, dtype=np.float32)
        codes -= np.rint(np.float32(effects.clip_noise_dn) * taken_off)
    if shot.drop_bits:
        keep = np.float32(1 << shot.drop_bits)
        np.minimum(codes, black + np.float32(effects.burst_clip) * (clip - black), out=codes)
        np.floor(codes / keep, out=codes)
        codes *= keep
    if effects.black_cut:
        codes -= np.rint(black)
    np.clip(codes, 0.0, top, out=codes)


def _shading(spec: SeriesSpec, start: int, shape: tuple[int, ...]) -> Plane:
    width, height = spec.frame_size
    rows, columns = shape
    y = (np.arange(start, start + rows) - spec.body.masked_top + 0.5) / height - 0.5
    x = (np.arange(columns) - spec.body.masked_left + 0.5) / width - 0.5
    radius2 = 2.0 * (y[:, None] ** 2 + x[None, :] ** 2)
    return np.exp2(spec.effects.shading_ev * radius2).astype(np.float32)
