"""Bars, strips and stacks hold what their answers say, and are drawn where they hold it."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from profiler.onset.camera import parse_setting
from profiler.records import Estimate
from profiler.show.calibration.bars import bars_of
from profiler.show.drawing import drawing
from profiler.show.marks import Bar, Bars, Stack, Stacks, Step, Strip
from profiler.show.onset.marks import dial_strip


def test_a_bar_stands_where_its_result_does(kept):
    shown = bars_of(kept)
    assert len(shown.bars) == len(kept.results)
    for bar, result in zip(shown.bars, kept.results, strict=True):
        assert bar.clip == result.clip_headroom_ev.value
        assert bar.aim == pytest.approx(result.clip_headroom_ev.value - result.aim_stops)
        assert bar.floor == pytest.approx(-result.footroom_ev.snr10.value)
        assert shown.low < bar.floor < bar.clip_low < bar.clip < bar.clip_high < shown.high


def test_a_bound_has_no_aim_and_says_so(kept):
    first = kept.results[0]
    clip = replace(first.clip_headroom_ev, lower_bound=True)
    unseen = replace(kept, results=(replace(first, clip_headroom_ev=clip),))
    bar = bars_of(unseen).bars[0]
    assert bar.aim is None
    assert bar.at_least
    assert bar.text.startswith("clip at least +")
    assert "stroke-dasharray" in drawing(bars_of(unseen))


def test_a_floor_over_the_grey_keeps_its_sign(kept):
    first = kept.results[0]
    above = Estimate(value=-0.2, u=0.05, low=-0.3, high=-0.1)
    footroom = replace(first.footroom_ev, snr10=above)
    shown = bars_of(replace(kept, results=(replace(first, footroom_ev=footroom),)))
    assert shown.bars[0].floor == pytest.approx(0.2)
    assert shown.bars[0].text.endswith("floor +0.2 ± 0.1")


def places(svg: str, what: str) -> list[float]:
    return [float(each) for each in re.findall(rf'<{what} x1?="([\d.]+)%"', svg)]


def test_bars_are_drawn_in_proportion():
    bar = Bar(
        name="ISO 400", text="", floor=-5.0, clip=3.0, clip_low=2.5, clip_high=3.5, at_least=False,
        aim=-1.0, ticks=(-3.0,),
    )  # fmt: skip
    svg = drawing(Bars(title="a < b", low=-6.0, high=4.0, bars=(bar,)))

    def at(stops: float) -> float:
        return pytest.approx(1.5 + 97.0 * (stops + 6.0) / 10.0, abs=0.006)

    assert places(svg, "rect") == [at(-5.0), at(2.5)]
    assert places(svg, "line")[:4] == [at(3.0), at(0.0), at(-5.0), at(-3.0)]
    assert places(svg, "svg") == [at(-1.0)]
    assert 'aria-label="a &lt; b"' in svg
    assert "url(" not in svg


def test_a_stack_is_drawn_to_the_scale_of_the_largest():
    one = Stack(name="now", parts=(("flash", 3.0), ("ambient", 1.0)))
    two = Stack(name="then", parts=(("flash", 1.0), ("ambient", 1.0)))
    svg = drawing(Stacks(title="light", stacks=(one, two)))
    widths = [float(each) for each in re.findall(r'width="([\d.]+)%" height="18"', svg)]
    assert widths == pytest.approx([72.75, 24.25, 97.0, 24.25, 24.25, 48.5], abs=0.011)
    assert "flash 75 %, ambient 25 %" in svg


def test_the_dial_shows_the_chosen_mark_and_where_the_exact_setting_lies():
    strip = dial_strip(parse_setting("f/8 1/60"), 0.1, "exact", "third", by_time=True)
    assert isinstance(strip, Strip)
    assert [step.text for step in strip.steps if step.chosen] == ["1/60"]
    # more exposure lies to the right, a third of a stop apart
    assert [step.at for step in sorted(strip.steps, key=lambda s: s.at)] == pytest.approx(
        [k / 3 for k in range(-4, 5)]
    )
    named = {step.text: step.at for step in strip.steps}
    assert named["1/50"] > 0 > named["1/80"]
    assert (strip.wanted, strip.rest) == (0.1, "0.1 stop more")
    stops = dial_strip(parse_setting("f/8"), -0.2, "exact", "third", by_time=False)
    named = {step.text: step.at for step in stops.steps}
    assert named["f/7.1"] > 0 > named["f/9"]
    assert Step(at=0.0, text="f/8", chosen=True) in stops.steps


@pytest.mark.parametrize("setting", ["f/8 bulb 64 s", "f/8 180deg 24fps"])
def test_what_is_on_no_dial_has_no_strip(setting):
    assert dial_strip(parse_setting(setting), 0.1, "exact", "third", by_time=True) is None
