"""A simulated frame as the record that decoding its file would give, without any file."""

from __future__ import annotations

import numpy as np

from profiler.records import Masked, Mosaic
from profiler.simulate.levels import black_tag_dn, white_tag_dn
from profiler.simulate.pixels import render_frame
from profiler.simulate.series import SeriesSpec


def frame_record(spec: SeriesSpec, index: int) -> Mosaic:
    """Return the visible pixels of one frame in DN with its tags' levels and masked border.

    Faults of the file itself, such as damage or curve coding, aren't in it.
    """
    body, effects = spec.body, spec.effects
    top, left = body.masked_top, body.masked_left
    whole = render_frame(spec, index)
    masked = {}
    if top or left:
        names = np.array(body.pattern)
        rows = (np.arange(whole.shape[0]) - top) % len(names)
        columns = (np.arange(whole.shape[1]) - left) % len(names)
        channel = names[rows[:, None], columns[None, :]]
        channel[top:, left:] = ""
        for name in body.channels:
            codes = whole[channel == name].astype(np.float64)
            masked[name] = Masked(
                n=codes.size, mean_dn=float(codes.mean()), sd_dn=float(codes.std(ddof=1))
            )
    return Mosaic(
        values_dn=whole[top:, left:],
        cfa=body.pattern,
        black_tag_dn=black_tag_dn(body, spec.shots[index].iso, effects),
        white_tag_dn=dict.fromkeys(body.channels, float(white_tag_dn(body, effects))),
        masked=masked,
    )
