"""The answer key of a simulated series."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from profiler import standards
from profiler.simulate.exposure import frame_exposure, placement_ev
from profiler.simulate.levels import ChannelTruth, channel_truth
from profiler.simulate.marks import true_aperture
from profiler.simulate.scene import metered_ev100, metered_exposure_lx_s

if TYPE_CHECKING:
    from profiler.simulate.series import SeriesSpec


def truth(spec: SeriesSpec, files: tuple[str, ...]) -> dict[str, Any]:
    """Return the answer key as one JSON-ready object: results by label and mode, then frames.

    Results hold for an error-free meter with the meter's own K or C, at the card's centre, with
    the series' lens, in the modes that the sheet names. Error signs: positive is more light, or a
    reading that is too high.
    """
    return {
        "format": "greytare-truth",
        "version": 1,
        "seed": spec.seed,
        "aim_stops": standards.AIM_ISO12232_STOPS,
        "time_rule": spec.time_rule,
        "aperture_rule": spec.aperture_rule,
        "camera": {"make": spec.body.make, "model": spec.body.model, "serial": spec.body.serial},
        "lens": {"model": spec.body.lens},
        "meter": asdict(spec.meter),
        "scene": asdict(spec.scene) | {"illuminance_lx": spec.scene.illuminance_lx},
        "readings": {
            mode: {
                "ev100_true": metered_ev100(spec.scene, spec.meter, mode),
                "error_ev": spec.meter.error_ev,
            }
            for mode in spec.modes
        },
        "results": [result(spec, iso, mode) for mode in spec.written_modes for iso in spec.isos],
        "frames": [_frame(spec, index, file) for index, file in enumerate(files)],
        "faults": [{"name": name, "size": size} for name, size in spec.faults],
        "effects": asdict(spec.effects),
        "body": {
            key: value
            for key, value in asdict(spec.body).items()
            if key not in ("source_toml", "labels")
        }
        | {"labels": [asdict(label) for label in spec.body.labels]},
        "body_toml": spec.body.source_toml,
    }


def result(spec: SeriesSpec, iso: int, mode: str) -> dict[str, Any]:
    """Return the true result of one ISO label and meter mode.

    offset = headroom - aim; EI = label/2^offset; S_sat = 78/(H_metered 2^headroom), ISO 12232:2006
    via colour-hdri; all from the channel that clips first.
    """
    aperture = _usual_aperture(spec, iso)
    channels = channel_truth(
        spec.body,
        iso,
        spec.scene,
        spec.meter,
        mode,
        effects=spec.effects,
        aperture=aperture,
        lens_loss_ev=0.0 if spec.lens_loss_in_sheet else spec.lens_loss_ev,
    )
    headroom_ev = min(channel.headroom_ev for channel in channels.values())
    offset_ev = headroom_ev - standards.AIM_ISO12232_STOPS
    metered_lx_s = metered_exposure_lx_s(spec.scene, spec.meter, mode, iso)
    return {
        "iso": iso,
        "mode": mode,
        "light": spec.scene.light,
        "offset_ev": offset_ev,
        "exposure_index": iso / 2.0**offset_ev,
        "saturation_speed": standards.SATURATION_SPEED_LX_S.value
        / (metered_lx_s * 2.0**headroom_ev),
        "clip_headroom_ev": headroom_ev,
        "linear_headroom_ev": min(c.linear_headroom_ev for c in channels.values()),
        "first_to_clip": first_to_clip(channels),
        "channels": {name: asdict(channel) for name, channel in channels.items()},
    }


def first_to_clip(channels: dict[str, ChannelTruth]) -> str:
    """Return the channel with the least headroom; `G` where both greens have it alike."""
    least = min(channel.headroom_ev for channel in channels.values())
    first = [name for name, c in channels.items() if math.isclose(c.headroom_ev, least)]
    return "G" if first == ["G1", "G2"] else first[0]


def _usual_aperture(spec: SeriesSpec, iso: int) -> float:
    marks = Counter(shot.aperture for shot in spec.shots if shot.iso == iso and not shot.dark)
    return true_aperture(marks.most_common(1)[0][0], spec.aperture_rule)


def _frame(spec: SeriesSpec, index: int, file: str) -> dict[str, Any]:
    shot = spec.shots[index]
    exposure = frame_exposure(spec, index)
    row: dict[str, Any] = {
        "file": file,
        "iso": shot.iso,
        "dark": shot.dark,
        "time_mark": shot.time,
        "time_s": exposure.time_s,
        "aperture_mark": shot.aperture,
        "aperture": exposure.aperture,
        "bits": spec.body.bits - shot.drop_bits,
        "damage": shot.damage,
    }
    if shot.dark:
        return row
    placements = {mode: placement_ev(spec, index, mode) for mode in spec.written_modes}
    return row | {
        "placement_ev": placements[spec.written_modes[0]],
        "placements_ev": placements,
        "shutter_error_ev": exposure.shutter_error_ev,
        "iris_error_ev": exposure.iris_error_ev,
        "light_error_ev": exposure.light_error_ev,
        "power_ev": shot.power_ev,
        "gain_ev": shot.gain_ev,
        "reading_error_ev": shot.reading_error_ev,
    }
