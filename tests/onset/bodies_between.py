"""Bodies that differ in what they do between full stops, and what is said of them there."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from profiler import simulate, standards
from profiler.onset.profile import Profile
from profiler.simulate.levels import channel_truth
from profiler.simulate.sensor import Body, IsoLabel

THIRDS = (100, 125, 160, 200, 250, 320, 400, 500, 640, 800)


@dataclass(frozen=True)
class Kind:
    """A kind of body: its thirds of a stop, which labels are measured, which one is asked for.

    upper, lower: what the label a third above, and a third below, a full stop does: `gain` (its
    own), `paper` (the gain of the full stop, the file says another number), `codes` (the gain of
    the full stop, its codes multiplied, clip with them).
    """

    name: str
    upper: str = "gain"
    lower: str = "gain"
    measured: tuple[int, ...] = (100, 200, 400)
    asked: int = 250
    second_gain: int = 0


KINDS = (
    Kind("gain for every label, a third up"),
    Kind("gain for every label, a third down", asked=160),
    Kind("gain for every label, a full stop", measured=(100, 400, 800), asked=200),
    Kind("a third up is paper", upper="paper"),
    Kind("a third down is paper", lower="paper", asked=160),
    Kind("a third down by codes", lower="codes", asked=160),
    Kind(
        "a third down by codes, measured at others",
        lower="codes",
        measured=(100, 160, 200, 320, 400, 800),
        asked=640,
    ),
    Kind(
        "gain for every label, measured at others",
        measured=(100, 125, 200, 250, 400, 800),
        asked=500,
    ),
)
REFUSED = (
    Kind("a second gain begins", measured=(200, 400, 800), asked=500, second_gain=800),
    Kind("the step is paper", measured=(200, 320, 400), asked=250, lower="paper"),
)


def body_of(kind: Kind, rng: np.random.Generator) -> Body:
    """The invented body H2 with thirds of a stop; every gain is off by 0.02 EV or so."""
    base = simulate.load_body("halden-h2")
    first = base.label(100)
    labels = []
    for iso in THIRDS:
        full = 100 * 2 ** round(math.log2(iso / 100.0))
        way = "gain" if iso == full else kind.upper if iso > full else kind.lower
        gain = first.gain_e_per_dn * 100.0 / (full if way == "paper" else iso)
        read = math.hypot(3.0, 4.2 * 100.0 / full)
        if kind.second_gain and iso >= kind.second_gain:
            read *= 0.4
        top = iso / full if way == "codes" else 1.0
        labels.append(
            IsoLabel(
                iso=iso,
                gain_e_per_dn=gain * 2.0 ** float(rng.normal(0.0, 0.02)),
                read_noise_e=read,
                black_dn=first.black_dn,
                clip_dn={
                    name: round(first.black_dn[name] + top * (clip - first.black_dn[name]))
                    for name, clip in first.clip_dn.items()
                },
            )
        )
    return replace(base, labels=tuple(labels))


def series(kind: Kind, seed: int, size: tuple[int, int] = (96, 64)):
    """A series of the measured labels with reading, iris and shutter off as they are; its body."""
    rng = np.random.default_rng([seed, *kind.name.encode()])
    body = body_of(kind, rng)
    spec = simulate.standard_series(
        body,
        seed,
        labels=kind.measured,
        pairs=True,
        darks=2,
        size=size,
        ev100=10.0 + float(rng.uniform()),
        shutter_scatter_ev=0.02,
        meter=simulate.HandMeter(error_ev=float(rng.uniform(-1.0, 1.0)) * 0.1),
    )
    iris = float(rng.uniform(-1.0, 1.0)) * standards.APERTURE_MARK_EV
    shots = tuple(s if s.dark else replace(s, iris_ev=s.iris_ev + iris) for s in spec.shots)
    return replace(spec, shots=shots)


def true_offset(spec, iso: int) -> float:
    """The offset for an error-free meter, in EV."""
    channels = channel_truth(spec.body, iso, spec.scene, spec.meter, "spot")
    return min(c.headroom_ev for c in channels.values()) - standards.AIM_ISO12232_STOPS


def answered(profile: Profile, iso: int):
    """The offset that settings say for a label between, at another aperture than the measured."""
    return profile.settings("EV 10", iso=iso, aperture="f/8", between=True).dial.offset_ev
