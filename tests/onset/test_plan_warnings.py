"""What a plan can't promise is said, and nothing where it can."""

from __future__ import annotations

import pytest

from profiler.onset.camera import Aperture
from profiler.onset.plan_labels import LabelPlan, plan_warnings

GOOD = {
    "unsure_mains": False,
    "no_one_light": False,
    "darks": 1,
    "copies": 2,
}


def label(*, over_clip=True, line_frames=4, missed_ev=()):
    return LabelPlan(
        iso=400, frames=(), missed_ev=missed_ev, over_clip=over_clip, line_frames=line_frames
    )


def told(labels=(), aperture="5.6", word="f", **more):
    return plan_warnings(
        labels or (label(),), Aperture(marked=float(aperture), word=word), **(GOOD | more)
    )


@pytest.mark.parametrize("aperture", ["4", "5.6", "8"])
def test_a_good_plan_has_none(aperture):
    assert told(aperture=aperture) == ()


def test_a_t_stop_has_no_iris_to_doubt():
    assert told(aperture="2", word="T") == ()


@pytest.mark.parametrize(
    ("aperture", "band"),
    [
        ("3.5", "f/2.8 up to f/4, at this aperture only"),
        ("2", "wider than f/2.8, at this aperture only"),
        ("9", "f/4 and smaller"),
        ("11", "f/4 and smaller"),
    ],
)
def test_an_unusual_aperture_says_where_the_result_will_hold(aperture, band):
    assert told(aperture=aperture) == (
        f"f/{aperture} lies outside f/4 to f/8: the result will hold for {band}",
    )


MISSED = "ISO 400: no usable time for -7.0, +1.5 EV over the grey"
FEW = (
    "ISO 400: too few frames lie on the straight part (3); "
    "less light, a neutral density filter or shorter times give more"
)
BOUND = (
    "ISO 400: no frame is sure to lie over clip, so headroom may stay a lower bound; "
    "bring more light, open the iris or allow longer times"
)


@pytest.mark.parametrize(
    ("short_of", "said"),
    [
        ({"missed_ev": (-7.0, 1.5)}, (MISSED,)),
        ({"line_frames": 3, "missed_ev": (-7.0, 1.5)}, (FEW,)),
        ({"over_clip": False, "missed_ev": (-7.0, 1.5)}, (BOUND,)),
        ({"over_clip": False, "line_frames": 3}, (BOUND, FEW)),
    ],
)
def test_what_a_label_lacks(short_of, said):
    assert told([label(**short_of)]) == said


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"no_one_light": True}, "no single light suits all ISO labels"),
        ({"unsure_mains": True}, "this light may pulse with the mains"),
        ({"copies": 1}, "without two of each frame noise and floor are upper bounds"),
        ({"darks": 0}, "without lens-cap frames black rests on the file's own word"),
    ],
)
def test_what_the_whole_plan_lacks(more, said):
    (sentence,) = told(**more)
    assert sentence.startswith(said)
