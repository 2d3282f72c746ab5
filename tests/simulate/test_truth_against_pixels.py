"""The answer key against the pixels it is the key to, and against the speed standard."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from profiler.simulate import HandMeter, SeriesSpec, load_body, render_frame, standard_series
from profiler.simulate.exposure import placement_ev
from profiler.simulate.truth import result, truth

BODIES = ("halden-h2", "orrin-x6", "merle-m1")


def flat_series(body: str, seed: int = 11, **options: object) -> SeriesSpec:
    """A series whose card fills the frame evenly, for means without any gradient."""
    spec = standard_series(load_body(body), seed, **options)  # type: ignore[arg-type]
    return replace(
        spec, scene=replace(spec.scene, vignetting_ev=0.0, card_width=1.0, card_height=1.0)
    )


def channel_codes(spec: SeriesSpec, index: int) -> dict[str, np.ndarray]:
    """Codes of the active area by channel."""
    body = spec.body
    active = render_frame(spec, index)[body.masked_top :, body.masked_left :].astype(float)
    n = len(body.pattern)
    found: dict[str, list[np.ndarray]] = {}
    for y, row in enumerate(body.pattern):
        for x, name in enumerate(row):
            found.setdefault(name, []).append(active[y::n, x::n].ravel())
    return {name: np.concatenate(parts) for name, parts in found.items()}


@pytest.mark.parametrize("mode", ["spot", "incident-dome", "flash-flat"])
@pytest.mark.parametrize("body", BODIES)
def test_means_are_metered_level_times_two_to_the_placement(body: str, mode: str) -> None:
    spec = flat_series(body, mode=mode, labels=(100, 400), shutter_scatter_ev=0.1, size=(240, 180))
    checked = 0
    for index, shot in enumerate(spec.shots):
        key = result(spec, shot.iso, mode)["channels"]
        codes = channel_codes(spec, index)
        for name, channel in key.items():
            level = (
                0.0 if shot.dark else channel["metered_dn"] * 2 ** placement_ev(spec, index, mode)
            )
            if level > 0.95 * (channel["clip_dn"] - channel["black_dn"]):
                continue
            noise2 = level / channel["gain_e_per_dn"]
            noise2 += (channel["read_noise_e"] / channel["gain_e_per_dn"]) ** 2
            noise2 += (spec.body.prnu * level) ** 2 + 1 / 12
            u = (noise2 / codes[name].size) ** 0.5
            assert abs(codes[name].mean() - channel["black_dn"] - level) < 4.5 * u
            assert codes[name].var() == pytest.approx(
                noise2, rel=6 * (2 / codes[name].size) ** 0.5 + 0.01
            )
            checked += 1
    assert checked >= 12


@pytest.mark.parametrize("body", BODIES)
def test_each_channel_piles_up_at_its_clip_in_the_last_frame(body: str) -> None:
    spec = flat_series(body, labels=(100, 400), size=(96, 72))
    for iso in (100, 400):
        last = max(i for i, s in enumerate(spec.shots) if s.iso == iso and not s.dark)
        key = result(spec, iso, "spot")
        for name, channel in key["channels"].items():
            codes = channel_codes(spec, last)[name]
            assert (codes == channel["clip_dn"]).mean() > 0.99
        over = placement_ev(spec, last, "spot") - key["clip_headroom_ev"]
        assert 1.5 < over < 2.2


def test_photon_transfer_gives_the_gain_within_one_percent() -> None:
    spec = flat_series("halden-h2", labels=(100, 400), pairs=True)
    for iso in (100, 400):
        lit = [i for i, s in enumerate(spec.shots) if s.iso == iso and not s.dark]
        key = result(spec, iso, "spot")["channels"]
        for name in ("R", "G1", "B"):
            levels, variances = [], []
            for first, second in zip(lit[::2], lit[1::2], strict=True):
                a, b = channel_codes(spec, first)[name], channel_codes(spec, second)[name]
                level = (a.mean() + b.mean()) / 2 - key[name]["black_dn"]
                if level > 0.7 * (key[name]["clip_dn"] - key[name]["black_dn"]):
                    continue
                levels.append(level)
                variances.append((a - b).var() / 2 - 1 / 12)
            read_dn2 = (key[name]["read_noise_e"] / key[name]["gain_e_per_dn"]) ** 2
            weights = 1 / np.square(variances)
            slope = np.sum(weights * levels * (np.array(variances) - read_dn2)) / np.sum(
                weights * np.square(levels)
            )
            assert 1 / slope == pytest.approx(key[name]["gain_e_per_dn"], rel=0.01)


STANDARD_CAMERA = [
    # headroom in stops of a camera whose S_sat is its label: log2(78/(q K)), log2(78 pi/(q R C)),
    # q = 0.65 (ISO 12232:2006, ISO 2720:1974 via colour-hdri); worked by hand to four digits
    ("spot", {"k_cd_m2": 12.5}, 3.2630),
    ("spot", {"k_cd_m2": 14.0}, 3.0995),
    ("incident-flat", {"c_flat_lx": 250.0}, 3.0665),
    ("incident-dome", {"c_dome_lx": 340.0}, 2.6229),
]


@pytest.mark.parametrize(("mode", "constants", "headroom"), STANDARD_CAMERA)
def test_headroom_of_a_camera_whose_saturation_speed_is_its_label(
    mode: str, constants: dict[str, float], headroom: float
) -> None:
    body = load_body("merle-m1")
    label = body.label(400)
    sat_e = (label.clip_dn["Y"] - label.black_dn["Y"]) * label.gain_e_per_dn
    body = replace(body, electrons_per_lx_s=sat_e / (78.0 / 400.0))
    meter = HandMeter(**constants)
    spec = standard_series(body, 1, labels=(400,), mode=mode, meter=meter)
    key = result(spec, 400, mode)
    assert key["saturation_speed"] == pytest.approx(400.0, rel=1e-9)
    assert key["clip_headroom_ev"] == pytest.approx(headroom, abs=6e-5)


def test_offset_and_index_of_a_body_with_three_and_a_half_stops() -> None:
    body = load_body("merle-m1")
    now = result(standard_series(body, 1), 400, "spot")["clip_headroom_ev"]
    spec = standard_series(
        replace(body, electrons_per_lx_s=body.electrons_per_lx_s * 2 ** (now - 3.5)), 1
    )
    key = result(spec, 400, "spot")
    assert key["clip_headroom_ev"] == pytest.approx(3.5, abs=1e-9)
    assert key["offset_ev"] == pytest.approx(0.537, abs=6e-4)
    assert key["exposure_index"] == pytest.approx(276, abs=0.5)


def test_full_well_below_the_converter_is_the_clip() -> None:
    body = replace(load_body("merle-m1"), full_well_e=30000.0)
    spec = replace(flat_series("merle-m1", labels=(100,), size=(96, 72)), body=body)
    clip = result(spec, 100, "spot")["channels"]["Y"]["clip_dn"]
    assert clip == pytest.approx(128 + 30000 / 12.6)
    codes = channel_codes(spec, 7)["Y"]
    assert codes.mean() == pytest.approx(clip, abs=0.1)
    assert codes.std() == pytest.approx((7.5 / 12.6) ** 1, abs=0.15)


def test_first_body_is_the_one_promised() -> None:
    key = result(standard_series(load_body("halden-h2"), 1), 400, "spot")
    assert 2.6 < key["clip_headroom_ev"] < 2.8
    assert -0.36 < key["offset_ev"] < -0.2
    assert key["first_to_clip"] == "G"
    mono = result(standard_series(load_body("merle-m1"), 1), 400, "spot")
    assert mono["first_to_clip"] == "Y"


def test_truth_names_what_a_reader_needs() -> None:
    spec = standard_series(load_body("halden-h2"), 4)
    key = truth(spec, tuple(f"{i}.dng" for i in range(len(spec.shots))))
    assert key["aim_stops"] == pytest.approx(2.963474, abs=5e-7)
    assert key["seed"] == 4
    assert key["body_toml"] == spec.body.source_toml != ""
    assert [(r["iso"], r["mode"]) for r in key["results"]] == [
        (100, "spot"),
        (200, "spot"),
        (400, "spot"),
    ]
    assert len(key["frames"]) == 27
    assert sum(frame["dark"] for frame in key["frames"]) == 3
