"""A simulated body under sliders: what each of them does to response, residuals, result."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from profiler.errors import GreytareError
from profiler.show.calibration.lesson import lesson_answer, refused_answer
from profiler.web.plot import plot_of

if TYPE_CHECKING:
    from profiler.show.answer import Answer
    from profiler.simulate.sensor import Body
    from profiler.simulate.series import SeriesSpec

ISO: Final = 400
_MODE: Final = "spot"
_SIZE: Final = (96, 64)
_FRAMES: Final = 9


@dataclass(frozen=True, kw_only=True)
class Lesson:
    """What a setting of the sliders gives: found and true as an answer, plot data if found."""

    answer: Answer
    plot: dict[str, Any] | None = None


def teach(values: Mapping[str, float], seed: int) -> Lesson:
    """Return what the simulated series gives when it is measured and fitted."""
    from profiler.calibration import pipeline
    from profiler.simulate.memory import measure_in_memory
    from profiler.simulate.truth import result

    spec = make_series(values, seed)
    true = result(spec, ISO, _MODE)
    measurement, sheet = measure_in_memory(spec)
    try:
        profile = pipeline.fit(measurement, sheet, light="daylight")
    except GreytareError as error:
        return Lesson(answer=refused_answer(str(error), true))
    return Lesson(
        answer=lesson_answer(profile, true),
        plot=plot_of(profile.results[0], true["clip_headroom_ev"]),
    )


def teach_sorted(values: tuple[tuple[str, float], ...], seed: int) -> Lesson:
    """Return the same for values as pairs, which can be compared."""
    return teach(dict(values), seed)


def make_series(values: Mapping[str, float], seed: int) -> SeriesSpec:
    """Return the series that the sliders ask for."""
    from profiler import simulate

    spec = simulate.standard_series(
        _body(values),
        seed,
        labels=(ISO,),
        mode=_MODE,
        frames_per_label=_FRAMES,
        pairs=True,
        darks=2,
        size=_SIZE,
        shutter_scatter_ev=values["scatter"],
    )
    spec = replace(
        spec,
        scene=replace(spec.scene, veil=values["flare"] / 100.0),
        effects=replace(spec.effects, knee_start=values["knee"] / 100.0),
        meter=replace(spec.meter, error_ev=values["meter"]),
    )
    if values["drift"]:
        lit = [i for i, shot in enumerate(spec.shots) if not shot.dark]
        shots = list(spec.shots)
        for place, i in enumerate(lit, start=1):
            shots[i] = replace(shots[i], light_ev=-values["drift"] * place / len(lit))
        spec = replace(spec, shots=tuple(shots))
    if values["short"] >= 0.5:
        spec = simulate.FAULTS["clip-missing"].apply(spec)
    if values["mistyped"]:
        spec = simulate.FAULTS["mistyped-reading"].apply(spec, values["mistyped"])
    return spec


def _body(values: Mapping[str, float]) -> Body:
    """The invented body with one label, its sensitivity set for the headroom that is asked for."""
    from profiler import simulate
    from profiler.simulate.levels import channel_truth

    body = simulate.load_body("halden-h2")
    label = replace(body.label(ISO), read_noise_e=values["read_noise"])
    body = replace(body, labels=(label,), masked_left=0, masked_top=0)
    scene, meter = simulate.Scene(luminance_cd_m2=1.0), simulate.HandMeter()
    usual = channel_truth(body, ISO, scene, meter, _MODE).values()
    less = min(channel.headroom_ev for channel in usual) - values["headroom"]
    label = replace(label, gain_e_per_dn=label.gain_e_per_dn / 2.0 ** values["gain"])
    return replace(body, labels=(label,), electrons_per_lx_s=body.electrons_per_lx_s * 2.0**less)
