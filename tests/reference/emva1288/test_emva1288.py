"""The reference package emva1288 1.0.2 (EMVA 1288 Release 4.0) on the same frames.

An outside oracle only: the package is run, nothing of it is used.
"""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest

from profiler.calibration.fit.emva import emva_figures
from profiler.calibration.fit.noise import photon_transfer
from profiler.frames.statistics import pair_variance

K, SIGMA_E, BLACK, CLIP = 0.75, 6.0, 512.0, 16383
MONO = (("Y",),)


def frames(seed: int = 1288):
    """Dark pair and 55 bright pairs up to 10 % over clip, 14 bit, 160 x 120."""
    rng = np.random.default_rng(seed)

    def grab(electrons: float) -> np.ndarray:
        e = rng.poisson(electrons, (120, 160)) + rng.normal(0.0, SIGMA_E, (120, 160))
        return np.clip(np.rint(BLACK + K * e), 0, CLIP).astype(np.uint16)

    full = (CLIP - BLACK) / K
    levels = np.linspace(0.0, 1.10, 56)[1:] * full
    return (grab(0.0), grab(0.0)), levels, [(grab(e), grab(e)) for e in levels]


@pytest.fixture(scope="module")
def both():
    """The package's results, and ours from the same frames."""
    dark, levels, pairs = frames()
    np_had = getattr(np, "asfarray", None)
    np.asfarray = lambda a, dtype=float: np.asarray(a, dtype)  # numpy 2 dropped it
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            from emva1288.process import Results1288

            mean = np.array([0.5 * (a.mean() + b.mean()) for a, b in pairs])
            # eq. 18 by plain numpy for the package
            rule = [
                0.5 * np.mean((a.astype(float) - b) ** 2) - 0.5 * (a.mean() - b.mean()) ** 2
                for a, b in [dark, *pairs]
            ]
            dark_mean = 0.5 * (dark[0].mean() + dark[1].mean())
            n = len(pairs)
            package = Results1288(
                {
                    "temporal": {
                        "texp": np.ones(n),
                        "u_p": levels / 0.5,
                        "u_y": mean,
                        "s2_y": np.array(rule[1:]),
                        "u_ydark": np.full(n, dark_mean),
                        "s2_ydark": np.full(n, rule[0]),
                    },
                    "spatial": {},
                },
                loglevel=50,
            )
            theirs = {
                "K": package.K,
                "sigma_y_dark": package.sigma_y_dark,
                "sigma_d": package.sigma_d,
                "DR": package.DR,
                "LE_min": package.LE_min,
                "LE_max": package.LE_max,
                "saturation": mean[package.index_u_ysat] - dark_mean,
                "photons": package.u_p_sat,
                "R": package.R,
            }
    finally:
        if np_had is None:
            del np.asfarray
    own_rule = [pair_variance(a, b, MONO)["Y"][1] for a, b in [dark, *pairs]]
    ours = emva_figures(
        levels / 0.5, mean - dark_mean, np.array(rule[1:]), rule[0], theirs["saturation"]
    )
    return theirs, ours, np.array(rule), np.array(own_rule)


def test_pair_rule(both):
    _, _, rule, ours = both
    # below clip nothing is an outlier at six robust standard deviations in 19200 pixels, nearly
    assert ours[:45] == pytest.approx(rule[:45], rel=2e-3)


def test_gain_and_dark_noise(both):
    theirs, ours, *_ = both
    assert ours.gain_dn_per_e == pytest.approx(theirs["K"], rel=1e-6)
    assert ours.dark_noise_dn == pytest.approx(theirs["sigma_y_dark"], rel=1e-6)
    assert ours.dark_noise_e == pytest.approx(theirs["sigma_d"], rel=1e-6)


def test_linearity_error(both):
    theirs, ours, *_ = both
    assert ours.linearity_low_percent == pytest.approx(theirs["LE_min"], abs=1e-6)
    assert ours.linearity_high_percent == pytest.approx(theirs["LE_max"], abs=1e-6)


def test_dynamic_range(both):
    theirs, ours, *_ = both
    # theirs counts saturation in photons, through R; ours in DN through K: one quotient apart
    in_photons = theirs["DR"] * (theirs["saturation"] / theirs["R"]) / theirs["photons"]
    assert ours.dynamic_range == pytest.approx(in_photons, rel=1e-6)


def test_weighted_transfer_is_nearer_to_the_truth_than_the_rule():
    weighted, rule = [], []
    for seed in range(12):
        dark, _levels, pairs = frames(seed)
        pairs = pairs[:38:3]
        n = dark[0].size
        mean = np.array([0.5 * (a.mean() + b.mean()) for a, b in pairs]) - BLACK
        variance = np.array([pair_variance(a, b, MONO)["Y"][1] for a, b in pairs])
        dark_variance = pair_variance(*dark, MONO)["Y"][1]
        found = photon_transfer(
            np.concatenate([[0.0], mean]),
            np.concatenate([[dark_variance], variance]),
            np.full(len(pairs) + 1, float(n)),
            CLIP - BLACK,
            from_pairs=True,
        )
        weighted.append(found.slope_dn_per_e / K - 1.0)
        figures = emva_figures(mean, mean, variance, dark_variance, CLIP - BLACK)
        rule.append(figures.gain_dn_per_e / K - 1.0)
    assert np.std(weighted) < np.std(rule)
    assert math.hypot(*weighted) / math.sqrt(12) < 0.01


# printed by the package on its own worked simulation (K 0.75, sigma_d 6 e-, 14 bit), seed 1288:
# the two formulas that need no frames
def test_worked_numbers():
    sigma_y_dark, gain = 4.51793088886138, 0.7479892280483661
    assert math.sqrt(sigma_y_dark**2 - 1.0 / 12.0) / gain == pytest.approx(
        6.027759193124198, rel=1e-9
    )
    assert sigma_y_dark / gain + 0.5 == pytest.approx(6.540101540832943, rel=1e-9)
