"""The step of a meter's display, from what was typed."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from profiler.exposure.display import display_step_ev
from profiler.exposure.readings import Reading, parse_reading

THIRD = 1.0 / 3.0


def step(*texts: str, stated: float | None = None) -> float:
    return display_step_ev([parse_reading(text) for text in texts], stated)


@pytest.mark.parametrize(
    ("texts", "step_ev"),
    [
        (["EV 10.3"], 0.1),
        (["EV 10.35"], 0.01),
        (["10,3 EV"], 0.1),
        (["EV 10"], 1.0),
        (["EV 10.0"], 0.1),
        (["EV 10", "EV 10.3"], 0.1),
        (["EV 12.3 ISO 400"], 0.1),
        (["f/5.6+3 1/60 ISO 400"], 0.1),
        (["f/8+0 ISO 100"], 0.1),
        (["f/8 1/8 ISO 100"], THIRD),
        (["f/11 ISO 100"], THIRD),
        (["f/8 1/10 ISO 100"], THIRD),
        (["f/6.3 1/8 ISO 100"], THIRD),
        (["f/6.7 1/8 ISO 100"], 0.5),
        (["f/8 1/90 ISO 100"], 0.5),
        (["f/8 1/8 ISO 125"], THIRD),
        (["f/8+1/3 1/8 ISO 100"], THIRD),
        (["f/8+1/2 1/8 ISO 100"], 0.5),
        (["f/8₃ 1/8 ISO 100"], 0.1),
        (["6.5 klx"], math.log2(6.55 / 6.45)),
        (["f/7.30 1/8 ISO 100"], 0.1),
        (["T2.8 180deg 24fps EI 800"], THIRD),
        (["T2.8+5 180deg 24fps EI 800"], 0.1),
        (["T2.8 1/48 EI 800"], THIRD),
        (["650 lx"], math.log2(655 / 645)),
        (["653 lx"], math.log2(653.5 / 652.5)),
        (["650.0 lx"], math.log2(650.05 / 649.95)),
        (["1000 lx"], math.log2(1050 / 950)),
        (["1000 lx", "1250 lx"], math.log2(1005 / 995)),
        (["12 fL"], math.log2(12.5 / 11.5)),
        (["7 fc"], math.log2(7.5 / 6.5)),
        (["0.125 lx"], math.log2(0.1255 / 0.1245)),
        (["41 cd/m2"], math.log2(41.5 / 40.5)),
    ],
)
def test_step_as_typed(texts: list[str], step_ev: float) -> None:
    assert step(*texts) == pytest.approx(step_ev, abs=1e-12)


@pytest.mark.parametrize(
    ("texts", "step_ev"),
    [
        (["f/8 1/8 ISO 100", "f/8+3 1/8 ISO 100"], 0.1),  # its tenths were zero once
        (["f/8 1/8 ISO 100", "f/8+0 1/8 ISO 100"], 0.1),
        (["f/8 1/8 ISO 100", "f/9.5 1/8 ISO 100"], 0.5),
        (["f/8 1/8 ISO 100", "f/9 1/8 ISO 100"], THIRD),
        (["f/9.5 1/8 ISO 100", "f/9 1/8 ISO 100"], THIRD),
        (["f/13 1/8 ISO 100", "f/9.5 1/8 ISO 100"], 0.5),  # both series have f/13
        (["EV 10.3", "f/8 1/8 ISO 100"], THIRD),  # the coarsest form counts
        (["EV 10.3", "dark"], 0.1),
    ],
)
def test_several_readings_tell_more_than_one(texts: list[str], step_ev: float) -> None:
    assert step(*texts) == pytest.approx(step_ev, abs=1e-12)
    assert step(*reversed(texts)) == pytest.approx(step_ev, abs=1e-12)


@pytest.mark.parametrize("stated", [0.0, 0.02, 0.5])
def test_what_the_meter_s_file_says_overrules(stated: float) -> None:
    assert step("f/8+3 1/8 ISO 100", "EV 10.35", stated=stated) == stated


def test_without_a_reading_tenths_are_assumed() -> None:
    assert step() == 0.1
    assert step("dark") == 0.1


def test_a_reading_that_nobody_typed_counts_as_it_would_be_written() -> None:
    made = Reading(form="settings", aperture=8.0, more=Fraction(3, 10), time_s=1 / 8, iso=100.0)
    assert display_step_ev([made]) == 0.1
