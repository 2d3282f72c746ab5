"""Saturation speed is absolute: its budget holds the meter's constant, the lens and q."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import pytest

from profiler import simulate
from profiler.calibration import pipeline
from profiler.calibration.fit.budget import combine, coverage_factor
from profiler.files.profile import parse_profile, profile_json
from profiler.records import Meter
from profiler.show.calibration.profile import describe
from profiler.show.report.document import report_page
from profiler.simulate.memory import measure_in_memory


@cache
def shot(mode):
    spec = simulate.standard_series(
        simulate.load_body("halden-h2"), 3, labels=(100,), mode=mode,
        frames_per_label=8, size=(96, 96),
    )  # fmt: skip
    return measure_in_memory(spec)


def of(mode, **meter):
    measurement, sheet = shot(mode)
    return pipeline.fit(measurement, sheet, meter=Meter(**meter)).results[0]


def test_two_trade_values_of_k_agree_within_their_intervals():
    """K 12.5 and 14 are 0.1635 EV apart, and nothing tells which one a meter was built to."""
    a, b = of("spot"), of("spot", k_cd_m2=14.0)
    assert math.log2(a.saturation_speed.value / b.saturation_speed.value) == pytest.approx(
        math.log2(14.0 / 12.5)
    )
    for one, other in ((a, b), (b, a)):
        assert one.saturation_speed.low < other.saturation_speed.value < one.saturation_speed.high
    # offset and EI compare body with meter: the constant drops out
    assert a.offset_ev == b.offset_ev


# ISO 2720:1974 limits by receptor (via colour-hdri), half of the range in EV (computed)
@pytest.mark.parametrize(
    ("mode", "half_width_ev"),
    [("spot", 0.16909), ("incident-flat", 0.36848), ("incident-dome", 0.37744)],
)
def test_sources_by_hand(mode, half_width_ev):
    result = of(mode)
    rows = {row.source: row for row in result.saturation_budget}
    assert list(rows) == [
        "clip headroom",
        "meter constant",
        "lens transmittance",
        "place in the frame",
    ]
    assert rows["meter constant"].half_width_ev == pytest.approx(half_width_ev, abs=2e-5)
    # 0.75 to 0.95: log2(0.95/0.75)/2; q on the axis 0.7069 against 0.65 (ISO 12232:2006, computed)
    assert rows["lens transmittance"].half_width_ev == pytest.approx(0.17052, abs=2e-5)
    assert rows["place in the frame"].half_width_ev == pytest.approx(0.12100, abs=2e-5)
    assert all(row.basis for row in result.saturation_budget)
    u_headroom, _ = combine(result.budget)
    assert rows["clip headroom"].u_ev == pytest.approx(u_headroom)
    thirds = (half_width_ev**2 + 0.17052**2 + 0.12100**2) / 3.0
    u = math.sqrt(u_headroom**2 + thirds)
    speed = result.saturation_speed
    _, dof = combine(result.saturation_budget)
    assert math.log2(speed.high / speed.value) == pytest.approx(coverage_factor(dof) * u, rel=1e-4)
    assert math.log2(speed.value / speed.low) == pytest.approx(coverage_factor(dof) * u, rel=1e-4)
    # the speed of the body: 78/H_sat with H = q K/S or q R C/(pi S), grey 18 % (computed)
    k = {"spot": 12.5, "incident-flat": 250 * 0.18 / math.pi, "incident-dome": 340 * 0.18 / math.pi}
    h = 0.65 * k[mode] / 100.0 * 2.0**result.clip_headroom_ev.value
    assert speed.value == pytest.approx(78.0 / h)


def test_a_t_stop_holds_the_lens():
    """H at a T-stop has no transmittance in it: q is 0.65/0.90, and its row goes."""
    measurement, sheet = shot("spot")
    before = pipeline.fit(measurement, sheet).results[0]
    rows = tuple(replace(row, t_stop=5.657) if row.file == "*" else row for row in sheet.rows)
    after = pipeline.fit(measurement, replace(sheet, rows=rows)).results[0]
    assert "lens transmittance" not in {row.source for row in after.saturation_budget}
    moved = math.log2(after.saturation_speed.value / before.saturation_speed.value)
    headroom = after.clip_headroom_ev.value - before.clip_headroom_ev.value
    assert moved == pytest.approx(math.log2(0.90) - headroom, abs=1e-6)


def test_it_is_said_and_kept():
    measurement, sheet = shot("spot")
    profile = pipeline.fit(measurement, sheet)
    text = describe(profile, budget=True)
    assert "ISO 12232 S_sat: an absolute figure, with the meter's constant and the lens" in text
    assert "Saturation speed at ISO 100, spot" in text
    assert "lens transmittance" in text
    assert "gt-speed-budget-0" in report_page(profile)
    again = parse_profile(profile_json(profile), "written")
    assert again.results[0].saturation_budget == profile.results[0].saturation_budget
    old = replace(profile, results=tuple(replace(r, saturation_budget=()) for r in profile.results))
    assert "whose interval leaves out the meter's constant and the lens" in describe(old)
    assert "Saturation speed at ISO 100, spot" not in describe(old, budget=True)
