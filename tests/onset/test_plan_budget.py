"""The rows that a plan promises, each against a sum by hand."""

from __future__ import annotations

import math

import pytest

from profiler.calibration.fit.steadiness import likely_change_ev
from profiler.onset.plan import PlanAsk, planned
from profiler.onset.plan_budget import planned_rows
from profiler.records import Meter
from profiler.results import Source

LN2, ROOT3 = math.log(2.0), math.sqrt(3.0)
# grey 3 stops below clip: -4, -3, -2 leave 1/128, 1/64, 1/32 of the range; 2.9 is over its end
FEWEST = (-4.0, -4.0, -3.0, -2.0, 2.9)
OTHER = (-4.0, -3.0, -2.0, -1.0, 0.0)
METER = Meter(repeatability_ev=0.12)


def rows_of(mode="spot", *, readings=2, electronic=False, darks=2, step_ev=0.1, t_stop=False):
    """The rows by their sources, for two ISO labels."""
    made = planned_rows(
        [OTHER, FEWEST],
        3.0,
        mode,
        METER,
        darks=darks,
        t_stop=t_stop,
        range_dn=1000.0,
        step_ev=step_ev,
        readings=readings,
        electronic=electronic,
    )
    return {row.source: row for row in made}


# half the variance 0.05² of a frame is shared by the 4 frames of 3 times: (1 + 4/3)/2 of it each
USUAL = 0.05**2 * (1.0 + 4.0 / 3.0) / 2.0
SCATTER = math.sqrt(USUAL / 4.0)
# the first of three times is the prior's, the other two show 0.005 EV
STEADY = math.sqrt((USUAL + 2.0 * 0.005**2) / 3.0 / 4.0)
INVERSE_DN = (128.0 + 128.0 + 64.0 + 32.0) / 1000.0 / 4.0


@pytest.mark.parametrize(
    ("options", "source", "part_ev"),
    [
        ({}, Source.FIT_SCATTER, SCATTER),
        ({"electronic": True}, Source.FIT_SCATTER, STEADY),
        ({}, Source.BLACK, 0.1 / LN2 * INVERSE_DN),
        ({"darks": 0}, Source.BLACK, 0.6 / LN2 * INVERSE_DN),
        ({}, Source.STRAIGHTNESS, 0.014 / 2.0),
        ({}, Source.CLIP, 1.0 / math.sqrt(12.0) / (1000.0 * LN2)),
        ({"readings": 1}, Source.METER_REPEATABILITY, 0.12 / ROOT3),
        ({"readings": 4}, Source.METER_REPEATABILITY, 0.12 / ROOT3 / 2.0),
        ({"mode": "flash-spot"}, Source.METER_REPEATABILITY, 0.12 / ROOT3 / ROOT3),
        # half a step of 0.1 is within the readings' own scatter, 0.12/√3 = 0.069: it averages out
        ({"readings": 4}, Source.METER_RESOLUTION, 0.05 / ROOT3 / 2.0),
        # half a step of a third is not
        ({"readings": 4, "step_ev": 1 / 3}, Source.METER_RESOLUTION, 1 / 6 / ROOT3),
        ({}, Source.APERTURE_MARK, 0.05 / ROOT3),
    ],
)
def test_a_row(options, source, part_ev):
    assert rows_of(**options)[source].contribution_ev == pytest.approx(part_ev, rel=1e-9)


def test_degrees_of_freedom_of_the_scatter():
    # 5 and 4 frames on the line: 4 + 3, and one of the prior; unlike labels lend nothing
    assert rows_of()[Source.FIT_SCATTER].dof == 8.0
    assert rows_of(electronic=True)[Source.FIT_SCATTER].dof == 3.0


def test_rows_that_there_are_not():
    assert Source.APERTURE_MARK not in rows_of(t_stop=True)
    assert Source.LIGHT_DRIFT not in rows_of("flash-spot")
    assert Source.CARD_REFLECTANCE not in rows_of()
    assert Source.CARD_REFLECTANCE in rows_of("incident-flat")
    never = planned_rows(
        [(2.9,)], 3.0, "spot", METER, darks=2, t_stop=False, range_dn=1000.0, step_ev=0.1
    )
    assert never == ()


def test_what_a_drift_of_the_light_may_do():
    """Frames of n labels tell a trend by √(12 n) of their scatter; two readings by √2 of one's."""
    trend = math.sqrt(24.0) * SCATTER
    once = rows_of(readings=1)[Source.LIGHT_DRIFT]
    assert once.u_ev == pytest.approx(0.75 * likely_change_ev(trend, trend))
    difference = math.sqrt(2.0) * math.hypot(0.12, 0.05) / ROOT3
    both = 1.0 / math.sqrt(trend**-2 + difference**-2)
    twice = rows_of(readings=2)[Source.LIGHT_DRIFT]
    assert twice.half_width_ev == pytest.approx(0.25 * likely_change_ev(both, both))


def test_the_range_is_that_of_the_bits_less_an_usual_black():
    rows = {row.source: row for row in planned(PlanAsk(isos=(100,), bits=12)).budget}
    range_dn = 4096.0 - 128.0
    assert rows[Source.CLIP].u_ev == pytest.approx(1.0 / math.sqrt(12.0) / (range_dn * LN2))
