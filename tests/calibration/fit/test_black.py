"""Which source of black is believed, and when a disagreement shows."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.calibration.fit.black import choose_black, judge_black, late_shutter_u_dn, mean_of

ONE = np.ones(3)


def sources(**levels: float):
    return {name.replace("_", " "): (level * ONE, 0.5 * ONE) for name, level in levels.items()}


@pytest.mark.parametrize(
    ("levels", "source", "dn"),
    [
        ({"dark_frames": 512.3, "masked_pixels": 512.0, "tag": 512.0}, "dark frames", 512.3),
        ({"masked_pixels": 511.9, "tag": 512.0}, "masked pixels", 511.9),
        ({"tag": 512.0}, "tag", 512.0),
    ],
)
def test_order_of_trust(levels, source, dn):
    chosen = choose_black(sources(**levels), 3)
    assert (chosen.source, chosen.dn[0]) == (source, dn)
    judged, flags = judge_black(chosen, dn * ONE, 0.5 * ONE)
    assert (judged.source, flags) == (source, ())


def test_nothing_known_leaves_it_to_the_fit():
    chosen = choose_black({}, 3)
    assert chosen.source == "fit"
    assert np.all(np.isinf(chosen.u_dn))


def test_wrong_tag_gives_way_to_the_line():
    judged, flags = judge_black(choose_black(sources(tag=1024.0), 3), 512.0 * ONE, 2.0 * ONE)
    assert judged.source == "fit"
    assert [(flag.name, flag.size) for flag in flags] == [("black-disagrees", 512.0)]


def test_unsure_line_changes_nothing():
    judged, flags = judge_black(choose_black(sources(tag=512.0), 3), 530.0 * ONE, 20.0 * ONE)
    assert (judged.source, flags) == ("tag", ())


def test_dark_frames_stand_against_the_line_but_say_so():
    judged, flags = judge_black(
        choose_black(sources(dark_frames=512.0, tag=500.0), 3), 540.0 * ONE, 1.0 * ONE
    )
    assert judged.source == "dark frames"
    assert [flag.size for flag in flags] == [12.0, 28.0]


def test_mean_of_frames():
    quiet = [np.array([0.05])] * 2
    level, u = mean_of([np.array([512.0]), np.array([513.0])], quiet, 0.1)
    assert level == pytest.approx([512.5])
    assert u == pytest.approx([np.hypot(0.5, 0.1)])


def test_two_noisy_darks_that_agree_are_no_better_than_their_pixels():
    noisy = [np.array([2.0])] * 2
    _, u = mean_of([np.array([512.0]), np.array([512.0])], noisy, 0.1)
    assert u == pytest.approx([np.hypot(np.sqrt(2.0), 0.1)])


def test_a_tag_within_the_noise_of_the_darks_is_no_disagreement():
    for u, flagged in ((0.1, 1), (1.5, 0)):
        chosen = choose_black({"dark frames": (512.0 * ONE, u * ONE), "tag": (509.0 * ONE, ONE)}, 3)
        assert len(judge_black(chosen, 512.0 * ONE, 2.0 * ONE)[1]) == flagged


def test_a_late_shutter_looks_like_a_lower_black():
    """A third of a stop at 1/1000 s: limits of 0.2 ms, a rectangle; 40 000 DN a second."""
    time = np.array([0.001, 0.004, 0.016, 0.064])
    use = np.ones((4, 1), dtype=bool)
    found = late_shutter_u_dn(40000.0 * time[:, None], time, use)
    assert found == pytest.approx([40000.0 * 0.0002 / np.sqrt(3.0)])
    # bracketed by the iris the loss goes with the signal, which no black does
    signal = np.array([[40.0], [160.0], [640.0], [2560.0]])
    by_iris = late_shutter_u_dn(signal, np.full(4, 0.01), use)
    assert by_iris == pytest.approx([0.0], abs=1e-9)
    flash = late_shutter_u_dn(signal, np.full(4, np.inf), use)
    assert flash == pytest.approx([0.0])
