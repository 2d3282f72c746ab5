"""Faults that change light, charge or codes: the pixels and the answer key must change alike."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from profiler.simulate import FAULTS, SeriesSpec, load_body, render_frame, standard_series
from profiler.simulate.exposure import frame_exposure, placement_ev
from profiler.simulate.faults import with_faults
from profiler.simulate.truth import result


def series(*faults: str, body: str = "halden-h2", **options: object) -> SeriesSpec:
    chosen: dict[str, object] = {"size": (120, 90), "labels": (100, 400)} | options
    return with_faults(standard_series(load_body(body), 21, **chosen), faults)  # type: ignore[arg-type]


def codes(spec: SeriesSpec, index: int, channel: str = "G1", part: float = 0.2) -> np.ndarray:
    """Codes of one channel in the middle `part` of the active area."""
    body = spec.body
    active = render_frame(spec, index)[body.masked_top :, body.masked_left :].astype(float)
    n = len(body.pattern)
    y, x = next(
        (y, x) for y, row in enumerate(body.pattern) for x, c in enumerate(row) if c == channel
    )
    plane = active[y::n, x::n]
    rows, columns = (int(side * (1 - part) / 2) for side in plane.shape)
    return plane[rows : plane.shape[0] - rows, columns : plane.shape[1] - columns]


def last_lit(spec: SeriesSpec, iso: int) -> int:
    return max(i for i, shot in enumerate(spec.shots) if shot.iso == iso and not shot.dark)


def first_dark(spec: SeriesSpec, iso: int) -> int:
    return next(i for i, shot in enumerate(spec.shots) if shot.iso == iso and shot.dark)


# Not on the straight line, not on the card, or another level in the middle than over the rows
OFF_THE_LINE = {
    "knee",
    "card-missed",
    "card-off-centre",
    "glare",
    "mains-flicker",
    "led-pulse",
    "long-exposure-dark",
    "hot-pixels",
}


@pytest.mark.parametrize("name", [name for name in FAULTS if name not in OFF_THE_LINE])
def test_level_is_what_the_key_says_with_every_fault(name: str) -> None:
    spec = series(name)
    mode = spec.written_modes[0]
    checked = 0
    for index, shot in enumerate(spec.shots):
        key = result(spec, shot.iso, mode)["channels"]["B"]
        level = key["metered_dn"] * 2 ** (placement_ev(spec, index, mode) + shot.gain_ev)
        if shot.dark or not 50 < level < 0.6 * (key["clip_dn"] - key["black_dn"]):
            continue
        found = codes(spec, index, "B")
        off = abs(found.mean() - key["black_dn"] - level)
        assert off < 4.5 * found.std() / found.size**0.5 + 0.01 * level
        checked += 1
    assert checked >= (2 if name == "few-frames" else 6)


PLACEMENT_SHIFTS: list[tuple[str, Callable[[int, SeriesSpec], float], float]] = [
    # fault, shift of the placement in stops at a frame against the series without it, tolerance
    ("light-drift=0.4", lambda i, s: -0.4 * i / (len(s.shots) - 1), 1e-9),
    ("lamp-warm-up=0.5", lambda i, s: -0.5 * math.exp(-i * 6 / len(s.shots)), 1e-9),
    ("aperture-mark=0.1", lambda i, s: 0.1, 1e-9),
    # (1 + m)^2 for a lens drawn out to magnification m
    ("close-focus=0.1", lambda i, s: -0.2750, 5e-5),
    ("t-stop-in-sheet=0.42", lambda i, s: -0.42, 1e-9),
    ("t-stop-loss=0.42", lambda i, s: 0.0, 1e-9),
    ("flare=0.05", lambda i, s: math.log2(1 + 0.05 * (0.49 + 0.51 * 0.4)), 1e-9),
    # 1/60 run as 1/60 instead of 1/64: +0.0931; f/5.6 against 5.657 exact: +0.0291
    ("as-marked-apertures", lambda i, s: 0.0291, 5e-5),
]


@pytest.mark.parametrize(("fault", "shift", "tolerance"), PLACEMENT_SHIFTS)
def test_placement_shift(
    fault: str, shift: Callable[[int, SeriesSpec], float], tolerance: float
) -> None:
    ideal, spec = series(), series(fault)
    for index, shot in enumerate(spec.shots):
        if not shot.dark:
            moved = placement_ev(spec, index, "spot") - placement_ev(ideal, index, "spot")
            assert moved == pytest.approx(shift(index, spec), abs=tolerance)


def test_marked_times_differ_from_exact_ones_as_tables_say() -> None:
    errors = {"1/60": 0.0931, "1/125": 0.0342, "1/50": 0.0228, "1/13": -0.0338, "1/5": 0.0114}
    ideal, spec = series(ev100=10.3), series("as-marked-times", ev100=10.3)
    seen = set()
    for index, shot in enumerate(spec.shots):
        if not shot.dark and shot.time in errors:
            moved = placement_ev(spec, index, "spot") - placement_ev(ideal, index, "spot")
            assert moved == pytest.approx(errors[shot.time], abs=6e-5)
            seen.add(shot.time)
    assert seen


def test_late_shutter_harms_short_times_most() -> None:
    spec = series("shutter-late=0.1")
    late = [(frame_exposure(spec, i).shutter_error_ev, i) for i in range(16)]
    by_time = sorted(late, key=lambda pair: frame_exposure(series(), pair[1]).time_s)
    errors = [error for error, _ in by_time]
    assert errors == sorted(errors, reverse=True)
    time_s = frame_exposure(series(), by_time[0][1]).time_s
    assert errors[0] == pytest.approx(math.log2(1 + (2**0.1 - 1) / 1000 / time_s))


SCATTERS = [
    ("shutter-scatter=0.1", "shutter_error_ev", 0.1),
    ("iris-scatter=0.2", "iris_error_ev", 0.2),
    ("pair-flicker=0.003", "light_error_ev", 0.003 / math.log(2)),
]


@pytest.mark.parametrize(("fault", "field", "rms"), SCATTERS)
def test_scatter_has_its_size(fault: str, field: str, rms: float) -> None:
    spec = series(fault, frames_per_label=100, pairs=True)
    errors = [getattr(frame_exposure(spec, i), field) for i in range(400)]
    assert np.std(errors) == pytest.approx(rms, rel=0.12)
    assert abs(np.mean(errors)) < 4 * rms / 20


def test_cloud_takes_light_from_a_quarter_of_the_frames() -> None:
    spec = series("cloud=0.7")
    assert sorted(shot.light_ev for shot in spec.shots)[:5] == [-0.7] * 4 + [0.0]


def test_colour_cast_lowers_blue_and_raises_red() -> None:
    cast, ideal = result(series("colour-cast=1.5"), 400, "spot"), result(series(), 400, "spot")
    for channel, stops in (("R", 0.5), ("G1", 0.0), ("B", -1.5)):
        ratio = cast["channels"][channel]["metered_dn"] / ideal["channels"][channel]["metered_dn"]
        assert math.log2(ratio) == pytest.approx(stops, abs=1e-9)
    assert cast["light"] == "tungsten"


def test_card_reflectance_fools_only_an_incident_reading() -> None:
    spot = series("card-reflectance=0.1")
    incident = series("card-reflectance=0.1", mode="incident-flat")
    assert {shot.light_ev for shot in spot.shots} == {0.0}
    assert {shot.light_ev for shot in incident.shots if not shot.dark} == {0.1}


def test_flicker_bands_the_rows_and_vanishes_at_whole_pulses() -> None:
    spec = series("mains-flicker=1")
    spread = {}
    for index in range(8):
        rows = codes(spec, index, "B", part=0.6).mean(axis=1) - 512
        spread[frame_exposure(spec, index).time_s] = np.ptp(rows) / rows.mean()
    shortest, longest = min(spread), max(spread)
    assert spread[shortest] > 0.5
    assert spread[longest] < 0.1


def test_flicker_peak_to_peak_of_a_sine_at_100_hz() -> None:
    # full depth, 1/128 s: 0.7631 EV from the darkest phase to the brightest, 2 m |sinc(f t)|
    depth = abs(np.sinc(100 / 128))
    assert math.log2((1 + depth) / (1 - depth)) == pytest.approx(0.7631, abs=5e-5)
    spec = replace(series("mains-flicker=1", ev100=10.0), shots=series().shots[:1] * 200)
    spec = replace(spec, shots=tuple(replace(shot, time="1/125") for shot in spec.shots))
    spec = replace(spec, effects=replace(spec.effects, readout_s=0.0))
    found = [placement_ev(spec, i, "spot") for i in range(200)]
    assert np.ptp(found) == pytest.approx(0.7631, abs=0.005)


def test_vignetting_and_its_baked_in_correction() -> None:
    def corner(spec: SeriesSpec) -> float:
        whole = replace(spec, scene=replace(spec.scene, card_width=1.0, card_height=1.0))
        plane = codes(whole, 4, "G1", part=1.0) - 512
        return float(plane[:5, :5].mean() / plane[20:25, 28:32].mean())

    # the corner's five by five pixels lie at 2 (0.444^2 + 0.458^2) = 0.81 of the corner's square
    assert math.log2(corner(series("vignetting=1.0"))) == pytest.approx(-0.81, abs=0.03)
    assert math.log2(corner(series("shading-baked=1.0"))) == pytest.approx(0.0, abs=0.03)


def test_card_faults_move_what_the_middle_shows() -> None:
    ideal = codes(series(), 4).mean() - 512
    missed = codes(series("card-missed"), 4).mean() - 512
    assert missed / ideal == pytest.approx(0.4, abs=0.02)
    bright = codes(series("card-small=0.2", "bright-surround=2.0"), 3, part=1.0) - 512
    assert bright[:, 0].mean() / bright[22, 30] == pytest.approx(2.0, abs=0.25)
    off = codes(series("card-off-centre=0.25"), 4, part=1.0) - 512
    assert off[8:14, 40:50].mean() > 2.0 * off[30:36, 10:20].mean()
    lit = codes(series("card-gradient=1.0"), 4, part=0.6) - 512
    assert lit[:, -3:].mean() / lit[:, :3].mean() == pytest.approx(2**0.57, rel=0.05)
    glare = codes(series("glare=0.5"), 4, part=0.6) - 512
    assert glare.max() / np.median(glare) > 1.25


def test_green_clips_lower() -> None:
    spec = series("clip-channel=0.18")
    last = last_lit(spec, 400)
    assert codes(spec, last, "G1").max() == 512 + round((15800 - 512) * 2**-0.18)
    assert codes(spec, last, "R").max() == 15800
    moved = result(spec, 400, "spot")["offset_ev"] - result(series(), 400, "spot")["offset_ev"]
    assert moved == pytest.approx(-0.18, abs=1e-4)


def test_clip_moves_at_the_highest_label_only() -> None:
    spec = series("clip-label=0.3")
    for iso, stops in ((100, 0.0), (400, -0.3)):
        key, ideal = result(spec, iso, "spot"), result(series(), iso, "spot")
        assert key["clip_headroom_ev"] - ideal["clip_headroom_ev"] == pytest.approx(stops, abs=1e-4)
        assert codes(spec, last_lit(spec, iso)).max() == key["channels"]["G1"]["clip_dn"]


def test_burst_frames_lose_two_bits() -> None:
    spec = series("burst-12bit=0.5")
    short = [bool(np.all(render_frame(spec, i) % 4 == 0)) for i in range(16)]
    assert sum(short) == 8
    assert short == [shot.drop_bits == 2 for shot in spec.shots[:16]]
    for index in (7, 15):
        top = 15800 if spec.shots[index].iso == 400 else 16000
        expected = (512 + 0.95 * (top - 512)) // 4 * 4 if short[index] else top
        assert codes(spec, index).max() == expected


def test_clip_becomes_a_bell() -> None:
    last = last_lit(series(), 400)
    assert codes(series(), last).std() == 0.0
    assert codes(series("clip-bell=12"), last, part=0.5).std() == pytest.approx(12, rel=0.15)


def test_response_bends_at_the_knee() -> None:
    spec = series("knee=0.6")
    spec = replace(spec, shots=(replace(spec.shots[0], time="1/8"),))
    key = result(spec, 100, "spot")["channels"]["G1"]
    span = key["clip_dn"] - key["black_dn"]
    level = key["metered_dn"] * 2 ** placement_ev(spec, 0, "spot") / span
    spec = replace(spec, shots=(replace(spec.shots[0], light_ev=math.log2(0.9 / level)),))
    assert (codes(spec, 0).mean() - 512) / span == pytest.approx(0.6 + 0.4 * 0.3, abs=0.003)


def test_linear_headroom_ends_where_the_knee_has_cost_two_percent() -> None:
    key = result(series("knee=0.6"), 400, "spot")["channels"]["G1"]
    x = 2.0 ** (key["linear_headroom_ev"] - key["headroom_ev"])
    assert (0.6 + 0.4 * (x - 0.6)) / x == pytest.approx(0.98, abs=1e-9)
    ideal = result(series(), 400, "spot")
    assert ideal["linear_headroom_ev"] == ideal["clip_headroom_ev"]


def test_digital_push_leaves_gaps_and_costs_headroom() -> None:
    spec = series("digital-push=1", size=(240, 180))
    found = np.unique(codes(spec, 11, "G1", part=0.6))
    assert set((found - 512) % 2) == {0.0}
    assert np.diff(found).min() == 2.0
    assert set((np.unique(codes(series(), 11, "G1")) - 512) % 2) == {0.0, 1.0}
    moved = (
        result(spec, 400, "spot")["clip_headroom_ev"]
        - result(series(), 400, "spot")["clip_headroom_ev"]
    )
    assert moved == pytest.approx(math.log2((16383 - 512) / (15800 - 512)) - 1, abs=1e-6)
    assert codes(spec, last_lit(spec, 400)).max() == 16383
    assert result(spec, 100, "spot") == result(series(), 100, "spot")


def test_codes_are_multiplied_at_wide_apertures_only() -> None:
    spec = series("wide-open-gain=0.38")
    assert {(s.iso, s.aperture) for s in spec.shots if not s.dark} == {(100, "1.4"), (400, "5.6")}
    for iso, stops in ((100, 0.38), (400, 0.0)):
        key, ideal = result(spec, iso, "spot"), result(series(), iso, "spot")
        ratio = key["channels"]["R"]["metered_dn"] / ideal["channels"]["R"]["metered_dn"]
        assert math.log2(ratio) == pytest.approx(stops, abs=1e-9)
    half_way = spec.effects.code_gain(100, 2**1.25)
    assert math.log2(half_way) == pytest.approx(0.19)


def test_highlight_mode_halves_every_third_frame() -> None:
    ideal, spec = series(), series("highlight-mode=1.0")
    ratios = [(codes(spec, i).mean() - 512) / (codes(ideal, i).mean() - 512) for i in range(1, 6)]
    assert ratios == pytest.approx([0.5, 1, 1, 0.5, 1], abs=0.01)


def test_black_faults() -> None:
    spec = series("black-channels=6", size=(240, 180))
    dark = first_dark(spec, 400)
    levels = {c: codes(spec, dark, c, part=1.0).mean() for c in spec.body.channels}
    assert levels == pytest.approx({"R": 518, "G1": 512, "G2": 515, "B": 506}, abs=0.15)
    spec = series("black-fraction=0.7", size=(240, 180))
    assert codes(spec, dark, part=1.0).mean() == pytest.approx(512.7, abs=0.15)
    assert result(spec, 400, "spot")["channels"]["R"]["black_dn"] == pytest.approx(512.7)


def test_cut_black_biases_the_dark_mean_by_four_tenths_of_sigma() -> None:
    spec = series("black-cut", size=(480, 320))
    dark = codes(spec, first_dark(spec, 400), part=1.0)
    sigma = math.hypot(3.3 / 0.98, 12**-0.5)
    assert dark.min() == 0
    # mean of a normal cut at zero: sigma / sqrt(2 pi)
    assert dark.mean() == pytest.approx(0.398942 * sigma, rel=0.03)
    key = result(spec, 400, "spot")
    assert key["channels"]["G1"]["black_dn"] == 0.0
    assert key["channels"]["G1"]["clip_dn"] == 15800 - 512
    assert key["clip_headroom_ev"] == result(series(), 400, "spot")["clip_headroom_ev"]


def test_masked_border_leaks_at_its_edge_only() -> None:
    spec = series("mask-leak=0.02")
    whole = render_frame(spec, last_lit(spec, 100)).astype(float)
    dark = render_frame(series(), last_lit(series(), 100)).astype(float)
    assert whole[24:, 47].mean() - dark[24:, 47].mean() > 20
    assert whole[23, 48:].mean() - dark[23, 48:].mean() > 20
    assert whole[24:, :30].mean() == pytest.approx(512, abs=0.3)
    assert dark[24:, 47].mean() == pytest.approx(512, abs=1)


def test_a_thousandth_of_the_pixels_is_hot_in_every_frame_alike() -> None:
    spec = series("hot-pixels=0.001", size=(480, 320))
    hot = render_frame(spec, first_dark(spec, 400)) > 2000
    assert hot.mean() == pytest.approx(0.001, rel=0.3)
    assert np.array_equal(hot, render_frame(spec, first_dark(spec, 100)) > 1500)


def test_noise_reduction_lowers_the_noise_between_neighbours() -> None:
    def noise(spec: SeriesSpec) -> float:
        plane = codes(spec, 3, part=0.5)
        return float(np.diff(plane, axis=1).var() / 2)

    # weights 1/4 1/2 1/4: differences keep (1/16 + 1/16 + 1/16 + 1/16)/2 of the variance
    assert noise(series("noise-reduction=0.25")) / noise(series()) == pytest.approx(0.125, rel=0.15)


def test_coarse_dark_hides_between_two_codes() -> None:
    spec = series("coarse-dark=0.15")
    assert codes(spec, first_dark(spec, 400), part=1.0).var() < 0.24
    assert codes(series(), first_dark(spec, 400), part=1.0).var() > 5


def test_dark_level_rises_with_time() -> None:
    spec, ideal = series("long-exposure-dark=20"), series()
    times = [frame_exposure(spec, i).time_s for i in range(16)]
    longest = int(np.argmax(times))
    caps = tuple(replace(spec.shots[longest], dark=True) for _ in range(2))
    assert codes(replace(spec, shots=caps), 0, part=1.0).mean() == pytest.approx(532, abs=0.5)
    assert codes(replace(ideal, shots=caps), 0, part=1.0).mean() == pytest.approx(512, abs=0.5)


def test_pattern_noise_is_fixed() -> None:
    spec = series("pattern-noise=0.05", pairs=True)
    first, second = codes(spec, 8, part=0.5) - 512, codes(spec, 9, part=0.5) - 512
    assert first.std() / first.mean() == pytest.approx(0.05, rel=0.15)
    assert np.corrcoef(first.ravel(), second.ravel())[0, 1] > 0.8
