"""The scale of stops: what stands where, without labels on top of each other."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from profiler.errors import GreytareError
from profiler.show.onset.place import place_scale
from profiler.show.onset.scale import VERDICTS, draw_scale, lanes, save_scale, spread

CROWD = ["white shirt=EV 14.4", "veil=EV 14.2", "paper=EV 14.3", "lamp=EV 17", "hair=EV 7.9"]
CROWD += ["jacket=EV 8.2", "a very long name of a spot indeed=EV 8.3", "skin=EV 12.3"]


@pytest.fixture(scope="module")
def placed(profile):
    return profile.place(400, key="EV 12", spots=CROWD, setting="f/8 1/250")


def drawn_texts(figure):
    figure.canvas.draw()
    renderer = figure.canvas.get_renderer()
    axes = figure.axes[0]
    texts = [*axes.texts, *figure.texts, *axes.get_yticklabels(), *axes.get_legend().get_texts()]
    return [(t.get_text(), t.get_window_extent(renderer)) for t in texts if t.get_text()]


@pytest.fixture
def figure(placed):
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    made = draw_scale(place_scale(placed))
    FigureCanvasAgg(made)
    return made


def test_no_two_labels_collide(figure):
    boxes = drawn_texts(figure)
    assert len(boxes) > 20
    for i, (one, a) in enumerate(boxes):
        for other, b in boxes[i + 1 :]:
            inside = min(a.x1, b.x1) - max(a.x0, b.x0), min(a.y1, b.y1) - max(a.y0, b.y0)
            assert not (inside[0] > 1.0 and inside[1] > 1.0), (one, other)


def test_all_labels_lie_inside_the_picture(figure):
    width, height = figure.bbox.width, figure.bbox.height
    for text, box in drawn_texts(figure):
        assert box.x0 >= 0.0, text
        assert box.x1 <= width, text
        assert 0.0 <= box.y0 <= box.y1 <= height, text


def test_everything_that_counts_is_named(figure):
    words = "\n".join(text for text, _ in drawn_texts(figure))
    for name in ("green clips", "red clips", "blue clips", "aim", "metered grey", "floor, SNR 10"):
        assert name in words
    for spot in ("white shirt", "lamp  +2.3  clipped", "hair", "grey (key)", "skin"):
        assert spot in words


def test_verdicts_differ_by_shape_as_by_colour():
    shapes = [(marker, face == "white") for marker, _, face, _ in VERDICTS.values()]
    assert len(set(shapes)) == len(VERDICTS)
    assert len({colour for _, colour, _, _ in VERDICTS.values()}) == len(VERDICTS)


def test_the_scale_reaches_over_all_spots(placed):
    shown = place_scale(placed)
    low, high = shown.low, shown.high
    for spot in placed.spots:
        assert low < -spot.below_clip_ev.high
        assert high > -spot.below_clip_ev.low


@given(st.lists(st.floats(-12.0, 4.0), min_size=1, max_size=20))
def test_spread_keeps_order_and_distance(values):
    gap = 0.5
    found = spread(values, gap, -14.0, 6.0)
    order = sorted(range(len(values)), key=lambda i: values[i])
    for below, above in pairwise(order):
        assert found[above] - found[below] >= gap - 1e-9
    assert min(found) >= -14.0 - 1e-9
    assert max(found) <= 6.0 + 1e-9
    if all(values[b] - values[a] >= gap for a, b in pairwise(order)):
        assert found == pytest.approx(values)


@given(st.lists(st.floats(-10.0, 0.0), min_size=1, max_size=12))
def test_lanes_part_what_crowds(values):
    values = sorted(values, reverse=True)
    found = lanes(values, 0.5, 4)
    for i in range(len(values) - 1):
        if values[i] - values[i + 1] < 0.5:
            assert found[i] != found[i + 1]


@pytest.mark.parametrize("kind", ["png", "pdf", "svg"])
def test_files(placed, tmp_path, kind):
    path = tmp_path / f"scale.{kind}"
    save_scale(place_scale(placed), path)
    assert path.stat().st_size > 5000
    with pytest.raises(GreytareError, match="can't be written as"):
        save_scale(place_scale(placed), tmp_path / "scale.gif")


def test_words_for_those_who_cant_see_it(placed):
    assert "lamp" in place_scale(placed).title
